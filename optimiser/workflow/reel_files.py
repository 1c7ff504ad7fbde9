"""Writes the dry reels that are sent through the chain and the capture device."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final, cast

import numpy as np
from numpy.typing import NDArray

from optimiser.audio import Reel, ReelKind, build_reel, length_remarks, read_recording, wav_bytes, write_wav
from optimiser.errors import BadInput, BadUse, InvalidRecording
from optimiser.rehearsal import LEARNING_RIFFS, RATE_HZ, VERIFY_RIFFS, play_riff
from optimiser.scoring import ArraySound, imprint
from optimiser.space import RiffOrder
from optimiser.storage import Store
from optimiser.study import Event, Study, StudyState, fold
from optimiser.workflow.proof_reels import goal_again, riffs_of_proof
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.views import View

KINDS: Final = ("learning", "proof", "verify")
_BUILT_IN: Final = (*LEARNING_RIFFS, *VERIFY_RIFFS)


@dataclass(frozen=True)
class ReelWish:
    """Which reel to write.

    Attributes:
        kind: `learning`, `proof` or `verify`.
        out: the WAV file to write.
        riffs: folder with the practitioner's own dry riffs, NAME.wav each; None for the built-in ones.
        trial: whose riff order a learning reel plays; None for the one that waits.
        sweep: whether a proof or verify reel ends with a sweep before its rest.

    Raises:
        BadUse: no such kind of reel, or a sweep in a learning reel.
    """

    kind: str
    out: Path
    riffs: Path | None = None
    trial: int | None = None
    sweep: bool = False

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise BadUse(f"There is no {self.kind!r} reel.", f"Use one of {', '.join(KINDS)}.")
        if self.sweep and self.kind == "learning":
            raise BadUse("A learning reel has no sweep.", "Ask for it with --kind proof or --kind verify.")


def write_reel(store: Store, name: str, wish: ReelWish, stamp: Stamp) -> View:
    """Write a reel and remember its layout with the study.

    Raises:
        NotFound: no such study, trial, folder or riff.
        BadInput, InvalidRecording: riffs that cannot make a reel.
    """
    order = _order(fold(store.events(name)), wish)
    sounds, rate_hz = own_riffs(wish.riffs, order) if wish.riffs else (built_in_riffs(order), int(RATE_HZ))
    reel = build_reel(sounds, order, cast(ReelKind, wish.kind), rate_hz, sweep=wish.sweep)
    return keep_reel(store, name, (reel, order), wish, stamp)


def remember_reel(store: Store, name: str, wish: ReelWish, stamp: Stamp) -> View:
    """Remember the layout of a reel that is going to be sent elsewhere, not written here.

    Raises:
        NotFound: no such study, trial or riff.
        BadInput: riffs that are not built in.
        BadUse: the study's recordings are of another reel of that kind.
    """
    with store.writing():
        state = fold(store.events(name))
        reel, order = _built(state, wish, _order(state, wish))
        kept = json.loads(json.dumps(reel_to_json(reel, wish.kind, order)))
        if state.reels.get(wish.kind) != kept:
            event = Event("reel made", {"reel": kept}, stamp.iso(), stamp.actor, stamp.reason, stamp.key)
            store.append(name, event)
            state = state.after(event)
    return {"study": name, "reel": kept, **_told(state, reel, wish)}


def reel_bytes(store: Store, name: str, wish: ReelWish) -> bytes:
    """The bytes of the reel that `remember_reel` remembered.

    Raises:
        NotFound, BadInput, BadUse: as `remember_reel`.
    """
    state = fold(store.events(name))
    known = state.reels.get(wish.kind) if wish.kind != "learning" else None
    order = _order(state, wish) if known is None else tuple(known["riffs"])
    reel, _ = _built(state, wish, order)
    return wav_bytes(reel.samples, reel.rate_hz)


def _built(state: StudyState, wish: ReelWish, order: tuple[str, ...]) -> tuple[Reel, tuple[str, ...]]:
    """A reel of the built-in riffs; a study that has a proof or verify reel of these riffs keeps to it."""
    known = state.reels.get(wish.kind) if wish.kind != "learning" else None
    known = known if known is not None and tuple(known["riffs"]) == order else None
    reel = build_reel(built_in_riffs(order), order, cast(ReelKind, wish.kind), int(RATE_HZ), sweep=wish.sweep)
    if known is not None and not _is_alike(known, reel):
        raise BadUse(
            f"The {wish.kind} reel of {state.sheet.name} was made otherwise, from riffs of its own or with a sweep.",
            "Take the file that was written then, so that all recordings are of one reel.",
        )
    return reel, order


def _is_alike(known: Mapping[str, Any], reel: Reel) -> bool:
    return bool(known["rate_hz"] == reel.rate_hz and known["seconds"] == reel.layout.duration_s)


def keep_reel(store: Store, name: str, made: tuple[Reel, tuple[str, ...]], wish: ReelWish, stamp: Stamp) -> View:
    """Write a reel that was built from riffs in this order, and remember its layout with the study.

    Raises:
        NotFound: no such study.
        StorageError: the file cannot be written.
    """
    reel, order = made
    write_wav(wish.out, reel.samples, reel.rate_hz)
    kept = reel_to_json(reel, wish.kind, order)
    with store.writing():
        event = Event("reel made", {"reel": kept}, stamp.iso(), stamp.actor, stamp.reason, stamp.key)
        store.append(name, event)
        state = fold(store.events(name))
    return {"study": name, "file": str(wish.out), "reel": kept, **_told(state, reel, wish)}


def _told(state: StudyState, reel: Reel, wish: ReelWish) -> View:
    """What to say of a reel that was just made."""
    return {
        "remarks": [] if wish.kind == "learning" else list(length_remarks(reel.layout)),
        "goal_again": goal_again(state) if wish.kind == "proof" else None,
    }


def built_in_riffs(order: tuple[str, ...]) -> dict[str, NDArray[np.float64]]:
    """The synthetic riffs of these names.

    Raises:
        BadInput: a riff that is not built in.
    """
    strange = [riff for riff in order if riff not in _BUILT_IN]
    if strange:
        raise BadInput(
            f"No riff called {', '.join(strange)} is built in.",
            f"Give your own with --riffs FOLDER, or name the riffs {', '.join(LEARNING_RIFFS)} in the sheet.",
        )
    return {riff: play_riff(riff) for riff in order}


def own_riffs(folder: Path, order: tuple[str, ...]) -> tuple[dict[str, NDArray[np.float64]], int]:
    """The practitioner's riffs, first channel, with their common rate.

    Raises:
        NotFound: a riff's file is not there.
        InvalidRecording: a file that cannot be read, or rates that differ.
    """
    sounds: dict[str, NDArray[np.float64]] = {}
    rates: dict[str, int] = {}
    for riff in order:
        samples, rates[riff] = read_recording(folder / f"{riff}.wav")
        sounds[riff] = np.ascontiguousarray(samples[:, 0])
    if len(set(rates.values())) > 1:
        said = ", ".join(f"{riff} {rate} Hz" for riff, rate in rates.items())
        raise InvalidRecording(f"The riffs differ in sample rate: {said}.", "Export them at one rate.", fault="rate")
    return sounds, rates[order[0]]


def _order(state: StudyState, wish: ReelWish) -> tuple[str, ...]:
    if wish.kind == "verify":
        return VERIFY_RIFFS if wish.riffs is None else tuple(sorted(path.stem for path in wish.riffs.glob("*.wav")))
    orders = [setting for setting in state.sheet.space.settings if isinstance(setting, RiffOrder)]
    if wish.kind == "proof":
        return riffs_of_proof(state)
    if not orders:
        return LEARNING_RIFFS
    settings = _settings_to_learn(state.study, wish.trial)
    if orders[0].name not in settings:
        raise BadUse(
            f"The sheet no longer has the riffs that trial {wish.trial} plays.",
            f"Name another trial, or ask optimiser next {state.sheet.name} for one.",
        )
    return tuple(settings[orders[0].name])


def _settings_to_learn(study: Study, number: int | None) -> Mapping[str, Any]:
    if number is not None:
        return study.trial(number).settings
    waiting = study.in_state("waiting")
    if not waiting:
        raise BadUse(
            "No trial is waiting whose riff order could be played.",
            f"Ask optimiser next {study.sheet.name} first, or name one with --trial N.",
        )
    return waiting[0].settings


def reel_to_json(reel: Reel, kind: str, order: tuple[str, ...]) -> dict[str, Any]:
    """What is kept of a reel: enough to find its riffs in a recording, and to know the reel itself again."""
    known = imprint(ArraySound(reel.samples[:, None], reel.rate_hz))
    return {
        "kind": kind,
        "riffs": list(order),
        "rate_hz": reel.rate_hz,
        "seconds": reel.layout.duration_s,
        "layout": asdict(reel.layout),
        "imprint": None if known is None else list(known),
    }
