"""Devices: let in by a code that works once, listed, and shut out again."""

from datetime import UTC, datetime
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from optimiser.service.answers import answer
from optimiser.service.bodies import PairingBody
from optimiser.service.desk import AtDesk, Desk
from optimiser.service.guard import COOKIE, address_of
from optimiser.service.hosts import is_loopback, parse_host
from optimiser.service.pairing import SESSION_TIME, new_session_secret
from optimiser.service.problems import refusal

router = APIRouter(prefix="/api", tags=["devices"])

FRAGMENT: Final = "#pair="
"""What the page finds behind its address: a fragment stays in the browser and in no log."""


@router.post("/pairing", status_code=201)
def pair(body: PairingBody, request: Request, desk: AtDesk) -> Response:
    """Exchange a code for a session: a cookie for a page, also the secret itself for a program that asks for it."""
    address, now_s = address_of(request.scope), desk.clock()
    wait_s = desk.guesses.wait_s(address, now_s)
    if wait_s is not None:
        return refusal(429, "Too many wrong codes from this address.", {"Retry-After": str(wait_s)})
    if not desk.pairing.use(body.code):
        desk.guesses.wrong(address, now_s)
        return refusal(401, "This code is wrong, used or too old.")
    now, secret = datetime.now(UTC), new_session_secret()
    session = desk.store.sessions.add(secret, body.label, now, now + SESSION_TIME)
    made = answer({**vars(session), **({"token": secret} if body.bearer else {})}, 201)
    made.set_cookie(
        COOKIE,
        secret,
        max_age=int(SESSION_TIME.total_seconds()),
        path=request.scope.get("root_path") or "/",
        secure="https" in (request.scope["scheme"], request.headers.get("origin", "").partition(":")[0]),
        httponly=True,
        samesite="strict",
    )
    return made


@router.post("/pairing/codes", status_code=201)
def new_code(request: Request, desk: AtDesk) -> Response:
    """A code for one more device: the link to be opened there within ten minutes, also as a picture to be scanned."""
    import segno

    code = desk.pairing.new_code()
    link = f"{_address(request, desk)}{FRAGMENT}{code}"
    picture = segno.make(link, error="m").svg_data_uri(border=4, light="#fff", dark="#000")
    return answer({"code": code, "fragment": FRAGMENT, "link": link, "picture": picture}, 201)


def _address(request: Request, desk: Desk) -> str:
    """Where another device finds the page: as this one does, or on the network where this one needs no network."""
    host = parse_host(request.headers.get("host", ""))
    if desk.address and (host is None or is_loopback(host)):
        return desk.address
    scheme = request.headers.get("origin", "").partition("://")[0] or request.scope["scheme"]
    return f"{scheme}://{request.headers.get('host', '')}{request.scope.get('root_path', '')}/"


@router.get("/sessions")
def sessions(request: Request, desk: AtDesk) -> Response:
    """The devices that may use the service, and which of them asks."""
    own = getattr(request.state, "session", None)
    known = [{**vars(session), "own": session.id == own} for session in desk.store.sessions.all()]
    return answer({"paired": desk.rules.paired, "sessions": known})


@router.delete("/sessions/{session}", status_code=204)
def revoke(session: str, desk: AtDesk) -> Response:
    """Shut a device out."""
    desk.store.sessions.revoke(session)
    return Response(status_code=204)
