"""Blind tests: which of a trial's two recordings X is, asked so often as was said beforehand.

What X is in each try is drawn when a test begins and told with the answer, never before.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from optimiser.errors import BadUse
from optimiser.scoring import chance_of_guessing
from optimiser.storage import BlindTest, Store
from optimiser.study import Event
from optimiser.workflow.excerpts import Excerpt, Window, excerpt
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.views import View

FEWEST_TRIES: Final = 5
"""Fewer cannot show a difference: even all right would come by guessing more often than the level."""

MOST_TRIES: Final = 100
"""Nobody listens well for longer (a choice, no source)."""

USUAL_TRIES: Final = 16
"""Tries of one test: 12 right of 16 are beyond guessing at 5 % (common practice, no source)."""

LEVEL: Final = 0.05
"""Chance of guessing so well, above which a test shows nothing (common practice, no source)."""

SIDES: Final = {"a": "reference", "b": "capture"}
"""A is always the reference, B always the capture; X is one of them."""


@dataclass(frozen=True)
class Listening:
    """What a blind test is to be.

    Attributes:
        trial: whose recordings are compared.
        tries: how often X is asked for, said beforehand.
        window: which part of the recordings.

    Raises:
        BadUse: a number of tries that cannot be.
    """

    trial: int
    tries: int = USUAL_TRIES
    window: Window = field(default_factory=Window)

    def __post_init__(self) -> None:
        if not FEWEST_TRIES <= self.tries <= MOST_TRIES:
            raise BadUse(
                f"A blind test cannot have {self.tries} tries.", f"Choose {FEWEST_TRIES} to {MOST_TRIES} beforehand."
            )


def begin_blind_test(store: Store, name: str, wish: Listening, stamp: Stamp) -> tuple[View, Excerpt]:
    """Begin a blind test; its clips are cut now, and what X will be is drawn.

    Raises:
        NotFound: no such study, trial or recording.
        BadUse, BadInput: a trial without two recordings, or nothing to hear there.
    """
    clips = excerpt(store, name, wish.trial, wish.window)
    window = (clips.start_s, wish.window.seconds)
    test = store.blind_tests.add(name, wish.trial, wish.tries, window, stamp.at, key=stamp.key)
    return blind_test_view(test), clips


def blind_test(store: Store, name: str, test: str) -> View:
    """How far a blind test is; of the tries that wait for their answer nothing is told.

    Raises:
        NotFound: no such test.
    """
    return blind_test_view(store.blind_tests.get(name, test))


def clips_of(store: Store, name: str, test: str) -> Excerpt:
    """The clips of a blind test, cut again.

    Raises:
        NotFound: no such test.
    """
    found = store.blind_tests.get(name, test)
    return excerpt(store, name, found.trial, Window(found.start_s, found.seconds))


def clip(store: Store, name: str, test: str, number: int, letter: str, clips: Excerpt) -> bytes:
    """What is played as A, B or X in one try, as a WAV file: the same work and the same length whatever X is.

    Raises:
        NotFound: no such test.
        BadUse: a try that is not due yet.
    """
    found = store.blind_tests.get(name, test)
    due = min(len(found.answers) + 1, len(found.hidden))
    if not 1 <= number <= due:
        raise BadUse(f"Try {number} of this blind test is not due.", f"Play try {due}.")
    side = {"a": "a", "b": "b", "x": found.hidden[number - 1]}[letter]
    return clips.wav(SIDES[side], np.random.default_rng())


def answer_blind_test(store: Store, name: str, test: str, number: int, answer: str, stamp: Stamp) -> View:
    """Keep an answer and tell what X was; with the last one the result goes into the ledger.

    Raises:
        NotFound: no such test.
        BadUse: another try is due, or the test is over.
    """
    letter = next(letter for letter, side in SIDES.items() if side == answer)
    told = store.blind_tests.answer(name, test, number, letter)
    if told.state == "finished":
        _keep(store, told, stamp)
    was = told.hidden[number - 1]
    return {**blind_test_view(told), "try": number, "x": SIDES[was], "right": was == letter}


def stop_blind_test(store: Store, name: str, test: str, stamp: Stamp) -> View:
    """End a blind test before its last try; what was answered is kept, and counts for nothing.

    Raises:
        NotFound: no such test.
    """
    told = store.blind_tests.stop(name, test)
    if told.answers:
        _keep(store, told, stamp)
    return blind_test_view(told)


def blind_test_view(test: BlindTest) -> View:
    """A blind test as it may be told at any moment."""
    answered = len(test.answers)
    chance = chance_of_guessing(test.correct, answered) if answered else None
    return {
        "study": test.study,
        "blind_test": test.id,
        "trial": test.trial,
        "state": test.state,
        "tries": len(test.hidden),
        "answered": answered,
        "correct": test.correct,
        "start_s": test.start_s,
        "seconds": test.seconds,
        "chance_of_guessing": chance if test.state == "finished" else None,
        "verdict": _verdict(test, chance),
    }


def _verdict(test: BlindTest, chance: float | None) -> str:
    if test.state == "open":
        return ""
    if test.state == "stopped" or chance is None:
        return f"Not finished: {len(test.answers)} of {len(test.hidden)} tries were answered, so nothing is shown."
    told = f"{test.correct} right of {len(test.hidden)}; guessing does as well in {100 * chance:.1f} % of tests."
    return f"Told apart: {told}" if chance < LEVEL else f"No difference shown: {told}"


def _keep(store: Store, test: BlindTest, stamp: Stamp) -> None:
    """Votes and order in the ledger, once."""
    body = {
        "trial": test.trial,
        "correct": test.correct,
        "tries": len(test.answers),
        "chosen_tries": len(test.hidden),
        "finished": test.state == "finished",
        "answers": test.answers,
        "hidden": test.hidden[: len(test.answers)],
        "start_s": test.start_s,
        "seconds": test.seconds,
    }
    event = Event("heard", body, stamp.iso(), stamp.actor, stamp.reason, f"blind test {test.id}")
    with store.writing():
        store.append(test.study, event)
