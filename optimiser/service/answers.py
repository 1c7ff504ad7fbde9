"""Views as answers: JSON in plain ASCII, and nothing sent twice that has not changed."""

import json
from collections.abc import Callable, Mapping
from typing import Any, Final

from fastapi import Request
from starlette.responses import Response

from optimiser.service.desk import Desk
from optimiser.service.problems import PROBLEM_SCHEMA
from optimiser.workflow import View, finite

JSON: Final = "application/json"

REFUSALS: Final[dict[int | str, dict[str, Any]]] = {"default": PROBLEM_SCHEMA}
"""What every route may also answer."""


def answer(view: View, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """A view as JSON; numbers that are not finite become null."""
    return Response(json.dumps(finite(view), allow_nan=False), status, dict(headers or {}), JSON)


def tag_of(request: Request, *said: object) -> str:
    """The entity tag of an answer that depends on these alone, and on the path and its question."""
    import hashlib

    text = "\n".join(map(str, (request.scope["path"], request.scope["query_string"], *said)))
    return f'"{hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]}"'


def is_known(request: Request, tag: str) -> bool:
    """Whether the client holds that answer already."""
    return tag in [known.strip().removeprefix("W/") for known in request.headers.get("if-none-match", "").split(",")]


def not_modified(tag: str) -> Response:
    """The answer to a client that holds it already."""
    return Response(status_code=304, headers={"ETag": tag})


def study_answer(request: Request, desk: Desk, name: str, make: Callable[[], View]) -> Response:
    """A view that follows from a study's events alone: not sent to who holds it.

    Raises:
        NotFound: no such study.
    """
    tag = tag_of(request, desk.store.newest(name))
    return not_modified(tag) if is_known(request, tag) else answer(make(), headers={"ETag": tag})
