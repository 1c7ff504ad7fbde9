"""Comparing by ear: excerpts at one loudness, and blind tests that keep their secret until the answer."""

from typing import Annotated, Final, Literal

import numpy as np
from fastapi import APIRouter, Path, Query
from starlette.responses import Response

from optimiser.service.answers import answer
from optimiser.service.bodies import BlindTestBody, VoteBody
from optimiser.service.desk import AtDesk, By, Desk
from optimiser.workflow import (
    Excerpt,
    Listening,
    Window,
    answer_blind_test,
    begin_blind_test,
    blind_test,
    clip,
    clips_of,
    excerpt,
    stop_blind_test,
)

router = APIRouter(prefix="/api/studies/{name}", tags=["listening"])

WAV: Final = "audio/wav"

TrialNumber = Annotated[int, Path(ge=1, le=1_000_000)]
Start = Annotated[
    float | None, Query(ge=0, le=1800, allow_inf_nan=False, description="Seconds; none: the loudest part.")
]
Seconds = Annotated[float, Query(ge=1, le=30, allow_inf_nan=False)]


@router.get("/excerpts/{number}")
def what_is_heard(
    name: str, number: TrialNumber, desk: AtDesk, start_s: Start = None, seconds: Seconds = 8.0
) -> Response:
    """Where an excerpt starts, its loudness, and the gains that brought both clips to it; the clips lie beside it."""
    found = _excerpt(desk, name, number, Window(start_s, seconds))
    clips = {
        part: f"{number}/{part}.wav?start_s={found.start_s!r}&seconds={seconds!r}" for part in ("reference", "capture")
    }
    return answer({"study": name, **found.view(), "clips": clips})


@router.get("/excerpts/{number}/{part}.wav")
def heard(
    name: str,
    number: TrialNumber,
    part: Literal["reference", "capture"],
    desk: AtDesk,
    start_s: Start = None,
    seconds: Seconds = 8.0,
) -> Response:
    """One clip: 24 bits, 48 kHz, as long and as loud as the other."""
    found = _excerpt(desk, name, number, Window(start_s, seconds))
    return Response(found.wav(part, np.random.default_rng()), media_type=WAV)


@router.post("/blind-tests", status_code=201)
def begin(name: str, body: BlindTestBody, desk: AtDesk, by: By) -> Response:
    """Begin a blind test: A is the reference, B the capture, X one of them, drawn anew for each try."""
    wish = Listening(body.trial, body.tries, Window(body.start_s, body.seconds))
    view, clips = begin_blind_test(desk.store, name, wish, by.stamp())
    desk.clips.get(("blind", view["blind_test"]), lambda: clips)
    return answer(view, 201)


@router.get("/blind-tests/{test}")
def how_far(name: str, test: str, desk: AtDesk) -> Response:
    """How far a blind test is; of the tries that wait for their answer nothing is told."""
    return answer(blind_test(desk.store, name, test))


@router.get("/blind-tests/{test}/{number}/{letter}.wav")
def played(
    name: str, test: str, number: Annotated[int, Path(ge=1, le=100)], letter: Literal["a", "b", "x"], desk: AtDesk
) -> Response:
    """What is played as A, B or X in one try: files of one length, no two of the same bytes."""
    clips = desk.clips.get(("blind", test), lambda: clips_of(desk.store, name, test))
    return Response(clip(desk.store, name, test, number, letter, clips), media_type=WAV)


@router.post("/blind-tests/{test}/answers")
def vote(name: str, test: str, body: VoteBody, desk: AtDesk, by: By) -> Response:
    """Say what X is; what it was is told with this answer, and the result with the last one."""
    return answer(answer_blind_test(desk.store, name, test, body.number, body.answer, by.stamp()))


@router.post("/blind-tests/{test}/stop")
def stop(name: str, test: str, desk: AtDesk, by: By) -> Response:
    """End a blind test early: kept as not finished, and counted for nothing."""
    return answer(stop_blind_test(desk.store, name, test, by.stamp()))


def _excerpt(desk: Desk, name: str, number: int, window: Window) -> Excerpt:
    event = desk.store.newest(name)
    return desk.clips.get(("clip", name, event, number, window), lambda: excerpt(desk.store, name, number, window))
