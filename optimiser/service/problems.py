"""What goes wrong, as problem documents (RFC 9457) that carry the same code, message and hint as the terminal."""

import json
import logging
import secrets
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.responses import Response

from optimiser.errors import Busy, OptimiserError, outcome_of
from optimiser.service.headers import HEADERS
from optimiser.storage import WrongOffset

MEDIA_TYPE: Final = "application/problem+json"
LONGEST_MESSAGE: Final = 4000
"""Characters of a message; what was sent is quoted in it and may be long (a choice, no source)."""

_LOG: Final = logging.getLogger("optimiser.service")
_MOST_FAULTS: Final = 50

PROBLEM_SCHEMA: Final[dict[str, Any]] = {
    "description": "A problem document: `code` for programs, `message` and `hint` for people.",
    "content": {
        MEDIA_TYPE: {
            "schema": {
                "type": "object",
                "required": ["type", "title", "status", "detail", "code", "message", "hint"],
                "properties": {
                    "type": {"type": "string"},
                    "title": {"type": "string"},
                    "status": {"type": "integer"},
                    "detail": {"type": "string"},
                    "code": {"type": "string"},
                    "message": {"type": "string"},
                    "hint": {"type": "string"},
                },
            }
        }
    },
}

_CODES: Final[Mapping[int, tuple[str, str]]] = {
    401: ("not_paired", "Pair this device: scan the code that optimiser serve --lan shows."),
    403: ("cross_site", "Use the service from its own page, or from a program."),
    404: ("not_found", "What there is stands in api/openapi.json."),
    405: ("bad_use", "What there is stands in api/openapi.json."),
    408: ("too_slow", "Send it again; nothing was stored."),
    413: ("too_large", "Send less at once; recordings go by pieces through api/uploads."),
    415: ("bad_use", "Send JSON as application/json, pieces of a file as application/octet-stream."),
    421: ("wrong_host", "Use the address that optimiser serve shows, or name the host with --name."),
    429: ("too_often", "Wait a little."),
}


_PLAIN: Final[Mapping[str, str]] = {
    "extra_forbidden": "nothing here has that name",
    "missing": "is missing",
    "greater_than": "give more than {gt}",
    "greater_than_equal": "give at least {ge}",
    "less_than_equal": "give at most {le}",
    "finite_number": "give a number",
    "float_type": "give a number",
    "int_type": "give a whole number",
    "int_parsing": "give a whole number",
    "float_parsing": "give a number",
    "bool_type": "give true or false",
    "string_type": "give a text",
    "string_too_long": "give {max_length} characters at most",
    "string_pattern_mismatch": "write it as {pattern}",
    "json_invalid": "the body is no JSON: {error}",
    "value_error": "{error}",
}
"""How the reader's faults are said; what is not among them is said in its own words."""


def problem(
    status: int, code: str, message: str, hint: str, headers: Mapping[str, str] | None = None, **more: Any
) -> Response:
    """One problem document."""
    said = message[:LONGEST_MESSAGE]
    body = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": f"{said} {hint}".strip(),
        "code": code,
        "message": said,
        "hint": hint[:LONGEST_MESSAGE],
        **more,
    }
    return Response(json.dumps(body, allow_nan=False), status, dict(headers or {}), MEDIA_TYPE)


def refusal(status: int, message: str, headers: Mapping[str, str] | None = None) -> Response:
    """The problem document of a request that is refused for its manners."""
    code, hint = _CODES[status]
    return problem(status, code, message, hint, headers)


def of_error(error: OptimiserError) -> Response:
    """The problem document of an error of ours."""
    headers: dict[str, str] = {}
    status = outcome_of(error).status
    if isinstance(error, Busy):
        headers["Retry-After"] = "1"
    if isinstance(error, WrongOffset):
        status, headers["Upload-Offset"] = HTTPStatus.CONFLICT, str(error.offset)
    faults = [asdict(fault) for fault in getattr(error, "faults", ())][:_MOST_FAULTS]
    short = [{name: text[:LONGEST_MESSAGE] for name, text in fault.items()} for fault in faults]
    return problem(status, error.code, error.message, error.hint, headers, **({"faults": short} if short else {}))


def install(app: FastAPI) -> None:
    """Let every failure of the app leave as a problem document."""

    @app.exception_handler(OptimiserError)
    async def _ours(_: Request, error: OptimiserError) -> Response:
        return of_error(error)

    @app.exception_handler(RequestValidationError)
    async def _unread(_: Request, error: RequestValidationError) -> Response:
        return _of_validation(error)

    @app.exception_handler(HTTPException)
    async def _http(_: Request, error: HTTPException) -> Response:
        code, hint = _CODES.get(error.status_code, ("bad_use", "What there is stands in api/openapi.json."))
        return problem(error.status_code, code, f"{error.detail}.".replace("..", "."), hint, error.headers)

    @app.exception_handler(ClientDisconnect)
    async def _gone(_: Request, __: ClientDisconnect) -> Response:
        return refusal(408, "The line was cut before the request was whole.")

    @app.exception_handler(Exception)
    async def _bug(_: Request, error: Exception) -> Response:
        number = secrets.token_hex(4)
        _LOG.error("fault %s: %s", number, ascii(error), exc_info=error)
        message = f"This is a fault in optimiser itself ({number})."
        hint = "What was stored stays stored. The log says where it happened."
        return problem(500, "bug", message, hint, HEADERS)  # answered outside of the door, which else adds these


def _of_validation(error: RequestValidationError) -> Response:
    faults = []
    for fault in error.errors()[:_MOST_FAULTS]:
        place = ".".join(str(step) for step in fault["loc"][1:])
        said = _PLAIN.get(fault["type"], fault["msg"])
        with suppress(KeyError):
            said = said.format(**fault.get("ctx", {}))
        faults.append(f"{place or fault['loc'][0]}: {said}"[:LONGEST_MESSAGE])
    hint = "What each request takes stands in api/openapi.json."
    return problem(422, "bad_request", "\n".join(faults), hint)
