"""Takes of a study, by which version of the measure each was scored, and one of them measured again."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from optimiser.errors import BadInput, NotFound, OptimiserError
from optimiser.scoring import MEASURE_VERSION, ReelLayout
from optimiser.storage import Store
from optimiser.study import Event, StudyState, sum_of_layout
from optimiser.workflow.files import sum_of
from optimiser.workflow.measuring import entries_of, measure_take
from optimiser.workflow.proof_reels import Wanted, layout_of, reel_of_take, wanted_for
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.views import View

UNKNOWN_VERSION: Final = "unknown"
"""What stands for the version of scores that do not tell theirs."""

_WORDS: Final = {"reference": "reference", "capture": "capture", "goal": "goal reference"}


@dataclass(frozen=True)
class Take:
    """Recordings of one trial, as they are measured now.

    Attributes:
        study: name of its study.
        trial: the trial's number.
        was: version of the measure that scored it.
        sums: SHA-256 of reference, capture and goal reference, None where there is none.
        names: what their files were called.
        layout: where riffs lie in the proof reel that the take is of, None when no reel was made for the study.
        reel: what that reel is known by, None where it is not known.
        wanted: the goal reference, None without one.
    """

    study: str
    trial: int
    was: str
    sums: Mapping[str, str | None]
    names: Mapping[str, str]
    layout: ReelLayout | None
    reel: str | None = None
    wanted: Wanted | None = None

    @property
    def is_old(self) -> bool:
        """Whether another version of the measure scored it than this one."""
        return self.was != MEASURE_VERSION

    @property
    def has_recordings(self) -> bool:
        """Whether both recordings were ever kept; scores of an imported study may have come without."""
        return bool(self.sums["reference"] and self.sums["capture"])

    def told(self) -> View:
        """What has to be the same for figures to belong to it."""
        return {
            "study": self.study,
            "trial": self.trial,
            "recordings": dict(self.sums),
            "layout": None if self.layout is None else sum_of_layout(asdict(self.layout)),
        }


def takes_of(state: StudyState) -> list[Take]:
    """Every trial that the measure scored, struck-out ones too, by rising number, without reel and goal reference."""
    takes = []
    for trial in state.study.in_state("measured", "void"):
        number = trial.number or 0
        details = state.details.get(number, {})
        if "capture" in details or "parts" in details:
            kept = {name: details.get(name) or {} for name in ("reference", "capture")}
            sums = {name: entries.get("sha256") for name, entries in kept.items()}
            names = {name: str(entries.get("name", "")) for name, entries in kept.items()}
            was = str(details.get("measure_version") or UNKNOWN_VERSION)
            takes.append(Take(state.sheet.name, number, was, sums, names, None))
    return takes


def completed(store: Store, state: StudyState, take: Take) -> Take:
    """A take with the reel that it is of, and the goal reference that it may be held against."""
    reel = reel_of_take(store, state, state.details[take.trial]) if take.has_recordings else None
    wanted = wanted_for(store, state, reel)
    goal: Mapping[str, Any] = {} if wanted is None else wanted.kept
    return replace(
        take,
        sums={**take.sums, "goal": goal.get("sha256")},
        names={**take.names, "goal": str(goal.get("name", ""))},
        layout=layout_of(state, reel),
        reel=reel,
        wanted=wanted,
    )


def recordings_of(store: Store, take: Take) -> dict[str, Path]:
    """Where the recordings of a take lie.

    Raises:
        NotFound: one that the store does not have.
        BadInput: a take whose recordings were never kept.
    """
    if not take.has_recordings:
        raise BadInput("Its recordings were never kept.")
    paths = {}
    for name, sha256 in take.sums.items():
        try:
            if sha256 is not None:
                paths[name] = store.audio.path(sha256)
        except NotFound:
            raise NotFound(f"Its {_WORDS[name]} {take.names[name]} is not in the store.") from None
    return paths


def measured_again(take: Take, paths: Mapping[str, Path]) -> View:
    """Scores and details of a take as this version measures it, or why it cannot be measured."""
    head = {**take.told(), "was": take.was, "measure_version": MEASURE_VERSION}
    try:
        for name, path in paths.items():
            if sum_of(path) != take.sums[name]:
                raise BadInput(
                    f"Its {_WORDS[name]} {take.names[name]} is damaged: the bytes are not those that were kept."
                )
        measured = measure_take(paths, take.layout, take.wanted)
    except OptimiserError as error:
        return {**head, "why": error.message}
    scores, details = entries_of(measured)
    return {**head, "scores": scores, "details": details}


def event_of(store: Store, state: StudyState, found: View, stamp: Stamp) -> Event:
    """The event by which a trial takes over the scores and details of `measured_again`.

    Raises:
        BadInput: they belong to another version of the measure, another take, or recordings that have changed since.
    """
    number, version = found["trial"], found["measure_version"]
    if version != MEASURE_VERSION:
        raise BadInput(f"Version {version} of the measure scored it; this is version {MEASURE_VERSION}.")
    known = next((take for take in takes_of(state) if take.trial == number), None)
    if known is None:
        raise BadInput("The study has no such take.")
    take = completed(store, state, known)
    if not is_of(found, take):
        raise BadInput("It was measured with other recordings, another goal reference or another reel.")
    details, stored = state.details[number], state.trials[number]
    body = {
        "trial": number,
        "changes": {name: score for name, score in found["scores"].items() if getattr(stored, name) != score},
        "details": {
            **{name: details[name] for name in ("reference", "capture")},
            "goal": dict(take.wanted.kept) if take.wanted is not None and take.wanted.same_reel else None,
            "reel": take.reel,
            **found["details"],
        },
    }
    reason = f"measured again, version {take.was} -> {version}"
    return Event("remeasured", body, stamp.iso(), stamp.actor, reason)


def is_of(found: View, take: Take) -> bool:
    """Whether figures belong to a take as its recordings, goal reference and reel stand."""
    return all(found[name] == entry for name, entry in take.told().items())
