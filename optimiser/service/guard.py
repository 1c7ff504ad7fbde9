"""The door: every request passes it before any route sees it, and every answer passes it on the way out."""

import asyncio
from datetime import UTC, datetime
from http.cookies import CookieError, SimpleCookie
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from optimiser.errors import OptimiserError
from optimiser.service.desk import Desk
from optimiser.service.headers import HEADERS
from optimiser.service.hosts import is_ours, parse_host, same_origin
from optimiser.service.problems import of_error, refusal

COOKIE: Final = "optimiser_session"

SAFE: Final = ("GET", "HEAD")

OPEN_PATHS: Final = ("/", "/colours.css", "/healthz", "/api/pairing")
OPEN_FOLDER: Final = "/static/"
"""What may be had without a session: the page itself, which holds nothing of a study, and the way to get one."""

MOST_BYTES: Final = 1 << 20
"""Bytes of a request's body (a choice, no source)."""

MOST_PIECE_BYTES: Final = 8 << 20
"""Bytes of one piece of an upload; a page sends 768 KiB, which passes the usual limit of a proxy in front."""

MOST_IMPORT_BYTES: Final = 50_000_000
"""Bytes of an exported study (as in the terminal)."""

SILENCE_S: Final = 30.0
"""Seconds without a byte after which a slow request is given up (a choice, no source)."""


class Guard:
    """Checks Host, Origin, session, kind and size of a request, and adds the strict headers to its answer."""

    def __init__(self, app: ASGIApp, desk: Desk) -> None:
        self._app = app
        self._desk = desk

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        send = _with_headers(send)
        headers = Headers(scope=scope)
        refused = self._manners(scope, headers) or await self._unpaired(scope, headers)
        if refused is not None:
            await refused(scope, receive, send)
            return
        await self._app(scope, _measured(receive, _most_bytes(scope)), send)

    def _manners(self, scope: Scope, headers: Headers) -> Response | None:
        """The refusal of a request from or for somewhere else, or of a body that cannot be."""
        named = headers.getlist("host")
        host = parse_host(named[0]) if len(named) == 1 else None
        if host is None or not is_ours(host, self._desk.rules.names):
            return refusal(421, "This service does not answer to that host name.")
        safe = scope["method"] in SAFE
        origin = headers.get("origin")
        foreign = origin is not None and not same_origin(origin, host, scope["scheme"])
        if (foreign and not safe) or (headers.get("sec-fetch-site") == "cross-site" and not _is_visit(scope, headers)):
            return refusal(403, "The page that asks is not one of this service.")
        return None if safe else _body_refused(scope, headers)

    async def _unpaired(self, scope: Scope, headers: Headers) -> Response | None:
        """The refusal of a request that needs a session and has none; who has one is written down."""
        path = path_of(scope)
        if not self._desk.rules.paired or path in OPEN_PATHS or path.startswith(OPEN_FOLDER):
            return None
        secret = secret_of(headers)
        if secret is None:
            return refusal(401, "This device is not paired.")
        try:
            session = await run_in_threadpool(self._desk.store.sessions.find, secret, datetime.now(UTC))
        except OptimiserError as error:
            return of_error(error)
        if session is None:
            return self._unknown(scope)
        scope.setdefault("state", {}).update(device=session.label, session=session.id)
        return None

    def _unknown(self, scope: Scope) -> Response:
        address, now_s = address_of(scope), self._desk.clock()
        wait_s = self._desk.guesses.wait_s(address, now_s)
        if wait_s is not None:
            return refusal(429, "Too many wrong sessions from this address.", {"Retry-After": str(wait_s)})
        self._desk.guesses.wrong(address, now_s)
        return refusal(401, "This device is not paired, or no longer.")


def path_of(scope: Scope) -> str:
    """The path within the service, whatever it is mounted under."""
    path: str = scope["path"]
    root: str = scope.get("root_path", "")
    return path[len(root) :] if root and path.startswith(f"{root}/") else path


def address_of(scope: Scope) -> str:
    """Where a request comes from."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def secret_of(headers: Headers) -> str | None:
    """The secret of a session, from the Authorization header or the cookie."""
    scheme, _, token = headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer" and token.strip():
        return token.strip()
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return None
    return cookies[COOKIE].value if COOKIE in cookies else None


def _is_visit(scope: Scope, headers: Headers) -> bool:
    """Whether somebody follows a link here, which tells the other site nothing."""
    return scope["method"] == "GET" and headers.get("sec-fetch-mode") == "navigate" and path_of(scope) == "/"


def _body_refused(scope: Scope, headers: Headers) -> Response | None:
    """A body that a plain form could send is none of ours; what is too long is refused before its first byte."""
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    wanted = "application/octet-stream" if _is_piece(scope) else "application/json"
    if kind != wanted and not (scope["method"] == "DELETE" and not kind):
        return refusal(415, f"The body is no {wanted}.")
    length = headers.get("content-length", "0")
    if not length.isascii() or not length.isdigit() or int(length[:20]) > _most_bytes(scope):
        return refusal(413, f"A body may have {_most_bytes(scope)} bytes here.")
    return None


def _is_piece(scope: Scope) -> bool:
    return bool(scope["method"] == "PATCH" and path_of(scope).startswith("/api/uploads/"))


def _most_bytes(scope: Scope) -> int:
    if _is_piece(scope):
        return MOST_PIECE_BYTES
    return MOST_IMPORT_BYTES if path_of(scope) == "/api/studies/import" else MOST_BYTES


def _measured(receive: Receive, most: int) -> Receive:
    """The body as it comes, given up when it is too long or too slow. Waiting for a client to leave has no end."""
    seen, over = 0, False

    async def _receive() -> Message:
        nonlocal seen, over
        if over:
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), SILENCE_S)
        except TimeoutError:
            raise HTTPException(408, "The request came too slowly") from None
        seen += len(message.get("body", b""))
        over = message["type"] != "http.request" or not message.get("more_body", False)
        if seen > most:
            raise HTTPException(413, f"A body may have {most} bytes here")
        return message

    return _receive


def _with_headers(send: Send) -> Send:
    async def _send(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return _send
