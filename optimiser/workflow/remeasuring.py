"""A measure that has changed, and takes that an older one scored: measured again, each kept as soon as it is done."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import Any, Final
from warnings import catch_warnings, simplefilter

from optimiser.errors import BadUse, OptimiserError
from optimiser.scoring import MEASURE_VERSION
from optimiser.storage import Store
from optimiser.study import fold
from optimiser.units import show_minutes
from optimiser.workflow.measured_lines import add_line, known_lines, lines_of
from optimiser.workflow.moves import moves_of
from optimiser.workflow.old_takes import Take, completed, event_of, is_of, measured_again, recordings_of, takes_of
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.views import View

Tell = Callable[[str], None]

IDLE_S: Final = 10.0
"""Seconds after which a process without work ends, so that none outlives a run that was killed for long (no source)."""


@dataclass(frozen=True)
class RemeasureWish:
    """Which takes are measured again, and how.

    Attributes:
        studies: names; none for every study of the store.
        shard: which part of how many, as (2, 3); every third take, from the second one on.
        jobs: processes at once, None for one on each core.
        out: file that takes the results instead of the store, to be merged later.

    Raises:
        BadUse: a part or a number of processes that cannot be.
    """

    studies: Sequence[str] = ()
    shard: tuple[int, int] = (1, 1)
    jobs: int | None = None
    out: Path | None = None

    def __post_init__(self) -> None:
        part, parts = self.shard
        if not 1 <= part <= parts:
            raise BadUse(f"There is no part {part} of {parts}.", "Write it as 1/3, 2/3 or 3/3.")
        if self.jobs is not None and self.jobs < 1:
            raise BadUse(f"{self.jobs} processes cannot be started.", "Ask for 1 or more.")

    def own(self, takes: Sequence[Take]) -> Sequence[Take]:
        """The takes of this part; which part a take belongs to does not hang on what was measured already."""
        part, parts = self.shard
        return takes[part - 1 :: parts]


def remeasure(store: Store, wish: RemeasureWish, stamp: Stamp, tell: Tell) -> View:
    """Measure takes again that another version of the measure scored. Broken off, it goes on where it stood.

    Raises:
        NotFound: no such study.
        StorageError: a result that cannot be kept.
    """
    names = tuple(dict.fromkeys(wish.studies)) or store.study_names()
    states = {name: fold(store.events(name)) for name in names}
    takes = wish.own([take for state in states.values() for take in takes_of(state)])
    done = known_lines(wish.out) if wish.out else []
    old = [completed(store, states[take.study], take) for take in takes if take.is_old]
    old = [take for take in old if not _is_done(take, done)]
    found, left_out = _found(store, old)
    measured = []
    for result in _told(_results(found, wish.jobs), len(found), tell):
        why = result.get("why") or _kept(store, result, wish.out, stamp)
        if why:
            left_out.append({"study": result["study"], "trial": result["trial"], "why": why})
        else:
            measured.append((result["study"], result["trial"]))
    view = _view(store, [] if wish.out else measured, left_out, tell)
    return {**view, "run": len(measured), "takes": len(takes), "file": str(wish.out) if wish.out else None}


def merged(store: Store, files: Sequence[Path], stamp: Stamp, tell: Tell) -> View:
    """Take results into the store that `remeasure` wrote to files, each once at most.

    Raises:
        NotFound: no such file.
        BadInput: a file that holds no results.
    """
    lines = lines_of(files)
    measured: list[tuple[str, int]] = []
    left_out: list[View] = []
    known = 0
    for line in lines:
        if line.found is None:
            left_out.append({"study": "", "trial": None, "why": f"{line.place} is damaged."})
            continue
        study, trial = line.found["study"], line.found["trial"]
        if study not in store.study_names():
            left_out.append({"study": study, "trial": trial, "why": "There is no such study here."})
        elif _stands(store, line.found):
            known += 1
        elif why := _kept(store, line.found, None, stamp):
            left_out.append({"study": study, "trial": trial, "why": why})
        else:
            measured.append((study, trial))
    view = _view(store, measured, left_out, tell)
    return {**view, "run": len(measured), "takes": len(lines), "file": None, "known": known}


def _is_done(take: Take, done: Iterable[View]) -> bool:
    return any(found["measure_version"] == MEASURE_VERSION and is_of(found, take) for found in done)


def _found(store: Store, takes: Iterable[Take]) -> tuple[list[tuple[Take, Mapping[str, Path]]], list[View]]:
    """Takes with where their recordings lie, and those whose recordings are gone."""
    found: list[tuple[Take, Mapping[str, Path]]] = []
    left_out: list[View] = []
    for take in takes:
        try:
            found.append((take, recordings_of(store, take)))
        except OptimiserError as error:
            left_out.append({"study": take.study, "trial": take.trial, "why": error.message})
    return found, left_out


def _results(found: Sequence[tuple[Take, Mapping[str, Path]]], jobs: int | None) -> Iterator[View]:
    """What is measured, in the order in which it is done."""
    if not found:
        return
    from joblib import Parallel, cpu_count, delayed

    workers = min(jobs or cpu_count(), len(found))
    pool = Parallel(n_jobs=workers, return_as="generator_unordered", idle_worker_timeout=IDLE_S)
    results = pool(delayed(measured_again)(take, paths) for take, paths in found)
    try:
        for result in results:  # noqa: UP028 - yield from would close the results before the warning is silenced
            yield result
    finally:
        with catch_warnings():
            simplefilter("ignore")  # that a run broken off leaves work undone is what was asked for
            results.close()


def _told(results: Iterator[View], count: int, tell: Tell) -> Iterator[View]:
    """The same results, each told once it was dealt with."""
    started = monotonic()
    for done, result in enumerate(results, start=1):
        yield result
        left = show_minutes((monotonic() - started) / 60.0 * (count - done) / done)
        after = f", about {left} left" if done < count else ""
        tell(f"{done} of {count}: trial {result['trial']} of {result['study']}{after}")


def _kept(store: Store, result: View, out: Path | None, stamp: Stamp) -> str:
    """Keep a result; empty, or why it does not belong to what the store holds now."""
    if out is not None:
        add_line(out, result)
        return ""
    with store.writing():
        state = fold(store.events(result["study"]))
        try:
            event = event_of(store, state, result, stamp)
            _ = state.after(event).study
        except OptimiserError as error:
            return error.message
        store.append(result["study"], event)
    return ""


def _stands(store: Store, result: View) -> bool:
    """Whether the trial was scored by this version already."""
    state = fold(store.events(result["study"]))
    takes = [take for take in takes_of(state) if take.trial == result["trial"] and not take.is_old]
    return any(is_of(result, completed(store, state, take)) for take in takes)


def _view(store: Store, measured: Sequence[tuple[str, int]], left_out: Sequence[Mapping[str, Any]], tell: Tell) -> View:
    studies = dict.fromkeys(study for study, _ in measured)
    return {
        "version": MEASURE_VERSION,
        "left_out": sorted(left_out, key=lambda one: (one["study"], one["trial"] or 0)),
        "studies": [moves_of(store.events(study), tell) for study in studies],
    }
