"""Debian's Chromium on a running service: pages that write down what they ask for and what goes wrong in them."""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

import httpx2
import pytest

from tests.service.conftest import room
from tests.service.server import Server, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Locator, Page

__all__ = ["room"]

CHROMIUM: Final = Path("/usr/bin/chromium")
WORDS: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
)
PATIENCE_MS: Final = 60_000
NAME: Final = "rehearsal"

Open = Callable[..., "Seen"]


@dataclass
class Seen:
    """A page, where its service is, what it asked for, and what went wrong."""

    page: "Page"
    address: str
    requests: list[str] = field(default_factory=list)
    wrongs: list[str] = field(default_factory=list)

    def go(self, place: str = "", heading: str = "") -> "Page":
        """Open a place of the page anew and wait until it is drawn."""
        self.page.goto("about:blank")
        self.page.goto(f"{self.address}#/{place}")
        self.headed(heading)
        return self.page

    def headed(self, heading: str) -> None:
        """Wait for a heading; any but the one before loading without words."""
        at = self.page.locator("#main h1")
        (at.filter(has_text=heading) if heading else at.filter(has_not_text="optimiser")).first.wait_for()

    def ask(self, path: str) -> Any:
        """What the service answers to this device."""
        return self.page.evaluate("path => fetch('api/' + path).then(answer => answer.json())", path)

    @staticmethod
    def expect(locator: "Locator") -> Any:
        """Something that has to become true of a part of the page."""
        from playwright.sync_api import expect

        return expect(locator)

    def button(self, name: str) -> None:
        """Press the button of that name."""
        self.page.get_by_role("button", name=name, exact=True).first.click()

    def strangers(self) -> list[str]:
        """What was asked of anybody but the service."""
        own = urlsplit(self.address).netloc
        return [url for url in self.requests if url.startswith(("http", "ws")) and urlsplit(url).netloc != own]


def missing(what: str) -> None:
    """Leave a test out where a browser is not expected, and fail where it is."""
    if os.environ.get("OPTIMISER_CI") == "1":
        pytest.fail(what)
    pytest.skip(what)


@pytest.fixture(autouse=True)
def own_surroundings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No test sees the store or the recordings of whoever runs it."""
    for name in ("OPTIMISER_STORE", "OPTIMISER_AUDIO"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture(scope="session")
def browser() -> Iterator["Browser"]:
    """One browser for all tests; each page has surroundings of its own."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright is not installed")
    if not CHROMIUM.exists():
        missing("Chromium is not installed")
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=str(CHROMIUM), args=list(WORDS))
        yield launched
        launched.close()


def listens(server: Server) -> None:
    """Wait until a service answers."""
    at = urlsplit(server.address)
    with httpx2.Client(transport=httpx2.HTTPTransport(retries=20)) as client:
        assert client.get(f"{at.scheme}://{at.netloc}/healthz").status_code == 200


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[..., Server]]:
    """Start services that end with the test; without a store named, on an empty one."""
    with ExitStack() as running:

        def _serve(*words: str, store: Path | None = None) -> Server:
            server = running.enter_context(served(store or tmp_path / "empty.db", *words))
            listens(server)
            return server

        yield _serve


@pytest.fixture
def store(room: Path, tmp_path: Path) -> Path:
    """Three measured trials of the rehearsal amp, and a fourth that waits."""
    shutil.copyfile(room / "rehearsal.db", tmp_path / "studies.db")
    shutil.copytree(room / "rehearsal.db.audio", tmp_path / "studies.db.audio")
    return tmp_path / "studies.db"


@pytest.fixture
def takes(room: Path) -> tuple[Path, Path]:
    """Reference and capture of the fourth trial."""
    paths = sorted((room / "takes").glob("*04*"))
    reference = next(path for path in paths if "reference" in path.name)
    return reference, next(path for path in paths if "capture" in path.name)


@pytest.fixture
def open_page(browser: "Browser") -> Iterator[Open]:
    """Open a page of a service, as a device of its own unless one is given.

    When the test is over, no page may have asked anybody else for anything, nor thrown anything.
    """
    opened: list[Seen] = []
    contexts: list[BrowserContext] = []

    def _open(address: str, *, width: int = 390, height: int = 844, device: Any = None, **more: Any) -> Seen:
        context = device or browser.new_context(viewport={"width": width, "height": height}, **more)
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        seen = Seen(context.new_page(), address)
        seen.page.on("request", lambda request: seen.requests.append(request.url))
        seen.page.on("pageerror", lambda error: seen.wrongs.append(str(error)))
        seen.page.on("console", lambda said: seen.wrongs.append(said.text) if _is_wrong(said.text) else None)
        opened.append(seen)
        return seen

    yield _open
    for context in dict.fromkeys(contexts):
        context.close()
    assert [seen.strangers() for seen in opened] == [[] for _ in opened]
    assert [seen.wrongs for seen in opened] == [[] for _ in opened]


def _is_wrong(said: str) -> bool:
    """Refused scripts and styles and thrown errors are wrong; a line that a test cut is not."""
    return "Content Security Policy" in said or "Uncaught" in said
