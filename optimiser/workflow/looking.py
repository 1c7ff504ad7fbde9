"""What there is and what it shows; the study is not changed."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from optimiser.errors import BadUse, NotFound
from optimiser.proposals import predict
from optimiser.review import (
    Standing,
    alike,
    alike_in_words,
    build_report,
    pair_figure,
    png_of,
    relation_in_words,
    standing_of,
    study_relation,
    svg_of,
    views_of,
)
from optimiser.storage import Store
from optimiser.study import Event, StudyState, Trial, fold
from optimiser.workflow.advising import advised_view, advisers_view
from optimiser.workflow.files import write_file
from optimiser.workflow.levels import highest_measured, scores_of
from optimiser.workflow.measuring import measure_pair
from optimiser.workflow.old_takes import takes_of
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.views import View, accepted_in_words, outlook_view, recommended_view, trial_view

_DRAWERS: Final[Mapping[str, Callable[..., str | bytes]]] = {".png": png_of, ".svg": svg_of}


def measure_view(reference: Path, capture: Path, goal: Path | None, figure: Path | None = None) -> View:
    """Every figure of one take, without a study; with `figure` also a picture of the pair, as PNG or SVG by its name.

    Raises:
        BadUse: a picture whose name ends neither in .png nor in .svg.
        NotFound: a file that is not there.
        InvalidRecording: a file that cannot be measured.
        StorageError: a picture that cannot be written.
    """
    draw = None if figure is None else _DRAWERS.get(figure.suffix.lower())
    if figure is not None and draw is None:
        raise BadUse(f"{figure.name or figure} is no name for a figure.", "End it in .png or .svg.")
    measured, curves = measure_pair(reference, capture, goal)
    view = asdict(measured)
    if figure is not None and draw is not None:
        view["figure"] = str(write_file(figure, draw(pair_figure(measured, curves).figure)))
    return view


def all_studies(store: Store) -> View:
    """Every study and where it stands."""
    return {"studies": [summary(fold(store.events(name))) for name in store.study_names()]}


def summary(state: StudyState) -> View:
    """Where one study stands; the highest trial is the one that measured so, days are not taken off."""
    study = state.study
    highest = highest_measured(study)
    return {
        "name": study.sheet.name,
        "title": study.sheet.title,
        "trials": len(study.trials),
        "measured": len(study.in_state("measured")),
        "planned": study.sheet.trials_planned,
        "waiting": [trial.number for trial in study.in_state("waiting")],
        "goal": state.goal is not None,
        "best": highest[1] if highest else None,
        "best_trial": highest[0].number if highest else None,
        "best_alike": list(alike(scores_of(study), highest[0].number or 0)) if highest else [],
        "by_reading": study.reading_in_words,
        "days": sorted({trial.day for trial in study.trials if trial.day}),
    }


def predicted(store: Store, name: str, raw: Mapping[str, object]) -> View:
    """What some settings would give.

    Raises:
        NotFound: no such study.
        InvalidSettings: settings that the sheet does not know, or some missing.
    """
    study = fold(store.events(name)).study
    space = study.sheet.space
    settings = space.parse(raw)
    return {
        "study": name,
        "settings": settings,
        "shown": space.show(settings),
        "outside": list(space.outside(settings)),
        **asdict(predict(study, settings)),
        "accepted": accepted_in_words(study),
        "by_reading": study.reading_in_words,
    }


def reviewed(
    store: Store,
    name: str,
    out: Path | None,
    stamp: Stamp,
    tell: Callable[[str], None],
    *,
    until: int | None = None,
) -> View:
    """Where a study stands and what mattered; with `out` also report, figures and table as files.

    With `until`, where it stood after the event of that number.

    Raises:
        NotFound: no such study or event.
        StorageError: a folder that cannot be written.
    """
    state = fold(_up_to(store.events(name), until))
    study = state.study
    tell("weighing what mattered")
    standing = standing_of(state)
    best = standing.highest
    kept = standing.recommendation
    view: View = {
        "study": name,
        "measured": len(study.in_state("measured")),
        "by_reading": study.reading_in_words,
        "best": _best(standing, best) if best else None,
        "recommended": None if kept is None else recommended_view(study, kept),
        "mattered": [asdict(share) for share in standing.shares],
        "reading_relation": [
            {**asdict(relation), "shown": relation_in_words(relation)} for relation in study_relation(study)
        ],
        "outlook": outlook_view(study),
        **advised_view(study, advisers_view(study)),
        "trials": [{**trial_view(state, trial), "levelled": standing.levelled(trial)} for trial in study.trials],
        "of_other_versions": [take.trial for take in takes_of(state) if take.is_old],
        "files": [],
    }
    if out is not None:
        tell("drawing figures and report")
        files = _review_files(standing, view["trials"], stamp)
        view["files"] = [str(write_file(out / file, content)) for file, content in files.items()]
    return view


def _best(standing: Standing, best: Trial) -> View:
    """The highest trial, and those that read the same."""
    same = alike(standing.levels, best.number or 0)
    return {
        **trial_view(standing.state, best),
        "levelled": standing.levelled(best),
        "alike": list(same),
        "alike_shown": alike_in_words(same),
    }


def _up_to(events: Sequence[Event], until: int | None) -> Sequence[Event]:
    if until is not None and not 1 <= until <= len(events):
        raise NotFound(f"There is no event {until}.", f"They go from 1 to {len(events)}, as optimiser history tells.")
    return events if until is None else events[:until]


def _review_files(standing: Standing, trials: list[View], stamp: Stamp) -> dict[str, str | bytes]:
    """Report, table of trials and figures, by file name."""
    views = views_of(standing)
    files: dict[str, str | bytes] = {
        "report.html": build_report(standing.state, stamp.iso(), standing=standing, views=views),
        "trials.csv": trials_table(trials),
    }
    for name, view in views.items():
        files[f"{name}.svg"] = view.svg
        files[f"{name}.png"] = png_of(view.figure)
    return files


def trials_table(trials: list[View]) -> str:
    """Every trial as a line of CSV."""
    import pandas

    left_out = ("settings", "asked", "parts", "study", "by_reading", "asks_again")
    rows: list[dict[str, Any]] = []
    for trial in trials:
        row = {name: entry for name, entry in trial.items() if name not in (*left_out, "shown")}
        rows.append({**trial["shown"], **{name: _joined(entry) for name, entry in row.items()}})
    return str(pandas.DataFrame(rows).to_csv(index=False))


def _joined(entry: object) -> object:
    return " | ".join(str(item) for item in entry) if isinstance(entry, list) else entry
