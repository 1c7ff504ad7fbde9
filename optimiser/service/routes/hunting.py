"""The hunt itself: what to try next, trials as they are made, and mending them."""

from typing import Annotated

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from optimiser.service.answers import answer, study_answer
from optimiser.service.bodies import AmendBody, LogBody, ReasonBody, SettingsBody, TakeBody, WishBody
from optimiser.service.desk import AtDesk, By
from optimiser.service.orders import order
from optimiser.workflow import (
    Amendment,
    amend,
    check_answer,
    log,
    next_trials,
    predicted,
    trial_of,
    trials_view,
    undo,
    unvoid,
    void,
)

router = APIRouter(prefix="/api/studies/{name}", tags=["hunt"])

TrialNumber = Annotated[int, Path(ge=1, le=1_000_000)]


@router.post("/next")
def what_next(name: str, body: WishBody, desk: AtDesk, by: By) -> Response:
    """What to try next, and what is left to gain; asked again before an answer, the same answer."""
    return answer(next_trials(desk.store, name, body.wish(), by.stamp(body.reason)))


@router.get("/trials")
def trials(name: str, request: Request, desk: AtDesk) -> Response:
    """Every trial by rising number."""
    return study_answer(request, desk, name, lambda: trials_view(desk.store, name))


@router.get("/trials/{number}")
def trial(name: str, number: TrialNumber, desk: AtDesk) -> Response:
    """One trial with everything that is kept of it."""
    return answer(trial_of(desk.store, name, number))


@router.post("/trials", status_code=201)
def log_trial(name: str, body: LogBody, desk: AtDesk, by: By) -> Response:
    """Keep a trial without files: figures that somebody has, or a run that failed; 200 where it had failed before."""
    view = log(desk.store, name, body.answer(), by.stamp())
    return answer(view, 201 if view["changed"] else 200)


@router.patch("/trials/{number}")
def amend_trial(name: str, number: TrialNumber, body: AmendBody, desk: AtDesk, by: By) -> Response:
    """Put right what was written down of a trial; what stood there before is kept."""
    entries = {entry: getattr(body, entry) for entry in ("overall", "reading", "ear", "note", "day")}
    known = {entry: value for entry, value in entries.items() if value is not None}
    amendment = Amendment(body.settings, known, body.clear)
    return answer(amend(desk.store, name, number, amendment, by.stamp(body.reason)))


@router.post("/trials/{number}/void")
def void_trial(name: str, number: TrialNumber, body: ReasonBody, desk: AtDesk, by: By) -> Response:
    """Strike a trial out: it stays readable, and counts for nothing."""
    return answer(void(desk.store, name, number, by.stamp(body.reason)))


@router.post("/trials/{number}/unvoid")
def unvoid_trial(name: str, number: TrialNumber, body: ReasonBody, desk: AtDesk, by: By) -> Response:
    """Let a trial that was struck out count again."""
    return answer(unvoid(desk.store, name, number, by.stamp(body.reason)))


@router.post("/undo")
def take_back(name: str, body: ReasonBody, desk: AtDesk, by: By) -> Response:
    """Take back the newest step with all that it changed; again, and the one before it goes."""
    return answer(undo(desk.store, name, by.stamp(body.reason)))


@router.post("/takes", status_code=202)
def take(name: str, body: TakeBody, desk: AtDesk, by: By) -> Response:
    """Hand over the two recordings of a trial; a job measures and keeps them."""
    said = body.answer()
    if desk.store.jobs.with_key(name, by.key) is None:
        check_answer(desk.store, name, said, by.stamp())
    told = {"trial": said.trial, "settings": said.settings, "figures": said.figures, "note": said.note}
    return order(desk, by, "take", name, {"reference": body.reference, "capture": body.capture}, {"answer": told})


@router.post("/predict")
def predict(name: str, body: SettingsBody, desk: AtDesk) -> Response:
    """What these settings would give."""
    return answer(predicted(desk.store, name, body.settings))
