"""The app: its routes behind its door."""

from collections.abc import AsyncIterator, Callable
from contextlib import AbstractContextManager, asynccontextmanager, nullcontext
from importlib.metadata import version
from typing import Final

from fastapi import FastAPI
from starlette.responses import Response

from optimiser.service.answers import REFUSALS
from optimiser.service.desk import Desk, Rules
from optimiser.service.guard import Guard
from optimiser.service.pages import FOLDER, PageFiles
from optimiser.service.pages import router as pages
from optimiser.service.problems import install
from optimiser.service.routes import ROUTERS
from optimiser.storage import Store

_ABOUT: Final = """Finds the settings with which a capture of a guitar amp sounds and answers like the amp.

Every write takes an `Idempotency-Key` header: the same key again changes nothing. Answers about a study carry an
`ETag`; sent back as `If-None-Match` they are not sent twice. Failures are problem documents (RFC 9457) with `code`,
`message` and `hint`. Bodies are JSON, pieces of a recording `application/octet-stream`."""


def build_app(
    store: Store, rules: Rules, work: Callable[[Desk], AbstractContextManager[object]] = nullcontext
) -> FastAPI:
    """The service on an open store.

    Args:
        store: stays open as long as the app is used; who opened it closes it.
        rules: who may use it.
        work: what runs beside it while it is up, such as the keeper of the worker.
    """
    desk = Desk(store, rules)

    @asynccontextmanager
    async def _up(_: FastAPI) -> AsyncIterator[None]:
        with work(desk):
            yield

    app = FastAPI(
        title="optimiser",
        version=version("optimiser"),
        description=_ABOUT,
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        default_response_class=Response,
        responses=REFUSALS,
        lifespan=_up,
    )
    app.state.desk = desk
    app.add_middleware(Guard, desk=desk)
    install(app)
    for router in (pages, *ROUTERS):
        app.include_router(router)
    app.mount("/static", PageFiles(directory=FOLDER / "static"), name="static")
    return app
