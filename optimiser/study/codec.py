"""Studies and trials as JSON, and the seed that follows from them."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from optimiser.errors import BadInput
from optimiser.study.history import Study
from optimiser.study.sheet_text import sheet_from_tables, sheet_to_tables
from optimiser.study.trial import Trial


def trial_to_json(trial: Trial) -> dict[str, Any]:
    """A trial's entries; its number is called `trial`, and entries that are None or empty are left out."""
    entries = {field.name: getattr(trial, field.name) for field in fields(trial)}
    number = entries.pop("number")
    kept = {name: entry for name, entry in entries.items() if entry is not None and entry != ""}
    return {"trial": number, **kept, "settings": dict(trial.settings)}


def trial_from_json(entries: Mapping[str, Any]) -> Trial:
    """The trial that `trial_to_json` wrote.

    Raises:
        BadInput: an entry that no trial has, or no settings.
        InvalidTrial: a figure that cannot be.
    """
    known = {field.name for field in fields(Trial)} - {"number"} | {"trial"}
    unknown = set(entries) - known
    if unknown or not isinstance(entries.get("settings"), Mapping):
        what = f"does not know {', '.join(sorted(unknown))}" if unknown else "needs settings"
        raise BadInput(f"A trial {what}.", f"Its entries are {', '.join(sorted(known))}.")
    return Trial(**{"number" if name == "trial" else name: entry for name, entry in entries.items()})


def study_to_json(study: Study) -> dict[str, Any]:
    """Sheet and trials as JSON values, with the advisers where there are any."""
    advisers = [study_to_json(adviser) for adviser in study.advisers]
    return {
        "sheet": sheet_to_tables(study.sheet),
        "trials": [trial_to_json(trial) for trial in study.trials],
        "goal_known": study.goal_known,
        **({"advisers": advisers} if advisers else {}),
    }


def study_from_json(entries: Mapping[str, Any]) -> Study:
    """The study that `study_to_json` wrote.

    Raises:
        SheetError, BadInput, InvalidTrial, InvalidSettings: what is wrong with it.
    """
    trials = tuple(trial_from_json(trial) for trial in entries.get("trials", ()))
    advisers = tuple(study_from_json(adviser) for adviser in entries.get("advisers", ()))
    return Study(sheet_from_tables(entries["sheet"]), trials, bool(entries.get("goal_known", False)), advisers)


def canonical_json(value: object) -> str:
    """JSON with sorted keys, no blanks and the shortest digits that give the same number back."""
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def seed_of(study: Study) -> int:
    """A seed of 63 bits that follows from the study's sheet, trials and advisers alone."""
    return _seed(study_to_json(study))


def seed_of_made(study: Study) -> int:
    """A seed of 63 bits that follows from the study, whatever waits, was declined or was struck out."""
    return seed_of(replace(study, trials=_made(study)))


def seed_of_settings(study: Study) -> int:
    """A seed of 63 bits that follows from the study's sheet and the settings of trials made, whatever they scored."""
    return _seed({"sheet": sheet_to_tables(study.sheet), "settings": [dict(trial.settings) for trial in _made(study)]})


def _made(study: Study) -> tuple[Trial, ...]:
    return study.in_state("measured", "failed")


def _seed(value: object) -> int:
    digest = hashlib.sha256(canonical_json(value).encode()).digest()
    return int.from_bytes(digest[:8], "big") >> 1
