"""The service on a port of this machine."""

import asyncio
import errno
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any, Final

import uvicorn

from optimiser.config import load_config
from optimiser.errors import BadUse
from optimiser.service.desk import Desk, Rules
from optimiser.service.hosts import parse_host
from optimiser.service.keeper import kept_worker
from optimiser.service.routes.pairing import FRAGMENT
from optimiser.service.web_app import build_app
from optimiser.storage import open_store

LOOPBACK: Final = "127.0.0.1"
EVERYWHERE: Final = "0.0.0.0"  # noqa: S104  (only with --lan, and then only paired devices are let in)
GRACE_S: Final = 3
"""Seconds that open answers have when the service ends (a choice, no source)."""

ELSEWHERE: Final = "192.0.2.1"
"""An address for examples (RFC 5737): asking which way leads there sends nothing."""

CAUTIONS: Final = (
    "Plain HTTP: whoever can listen on this network can read and change what passes, and use a session as their own. "
    "Use it on a network you trust, or put a TLS proxy in front.",
    "A device that was let in stays so for 90 days; the list of sessions shuts it out.",
)

Say = Callable[[dict[str, Any]], None]


@dataclass(frozen=True)
class Serving:
    """Where the service is to be had, and by whom.

    Attributes:
        host: address to listen at.
        port: TCP port; 0 for any that is free.
        lan: whether other machines may ask; each device has to be paired then.
        names: host names under which it is asked for, beside addresses and `localhost`.
        root_path: the path that a proxy in front puts before it and takes away, as in `/amps`.

    Raises:
        BadUse: an address that is open to others without pairing, a port, name or path that cannot be.
    """

    host: str = LOOPBACK
    port: int = 8765
    lan: bool = False
    names: tuple[str, ...] = ()
    root_path: str = ""

    def __post_init__(self) -> None:
        if not self.lan and not _is_loopback(self.host):
            raise BadUse(f"{self.host} is open to other machines.", "Add --lan, so that each device has to be paired.")
        if not 0 <= self.port < 65_536:
            raise BadUse(f"{self.port} is no port.", "Give one from 1024 to 65535.")
        strange = [name for name in self.names if (found := parse_host(name)) is None or found.port is not None]
        if strange:
            raise BadUse(f"{strange[0]!r} is no host name.", "Write it without port, as in studio.example.")
        if self.root_path and (not self.root_path.startswith("/") or self.root_path.endswith("/")):
            raise BadUse(f"{self.root_path!r} is no path.", "Write it as /amps, without a slash at its end.")

    @property
    def listens_at(self) -> str:
        """The address to bind to: with `lan` all of them, unless one was named."""
        return EVERYWHERE if self.lan and _is_loopback(self.host) else self.host


def serve(url: str | None, serving: Serving, actor: str, say: Say) -> None:
    """Run the service until it is interrupted.

    Args:
        url: of the store; None for the configured one.
        serving: where and for whom.
        actor: whom changes are owed to where no device says so.
        say: told the address, and with `lan` the link with its code, each time there is a new one.

    Raises:
        BadUse: an address or port that cannot be used.
        StorageError, Busy: a store that cannot.
    """
    place = load_config(store=url).store
    with open_store(place) as store, _bound(serving) as listening:
        names = frozenset(name.lower() for name in (*serving.names, *(_own_names() if serving.lan else ())))
        app = build_app(store, Rules(serving.lan, names, actor), lambda desk: kept_worker(desk, place))
        desk: Desk = app.state.desk
        address = desk.address = address_of(serving, listening.getsockname()[1])

        def _tell() -> None:
            link = f"{address}{FRAGMENT}{desk.pairing.new_code()}" if serving.lan else address
            cautions = list(CAUTIONS) if serving.lan else []
            say({"address": address, "link": link, "paired": serving.lan, "store": place, "cautions": cautions})

        desk.pairing.on_used = _tell
        server = uvicorn.Server(_config(app, serving))
        _tell()
        with suppress(KeyboardInterrupt):
            asyncio.run(server.serve(sockets=[listening]))


def address_of(serving: Serving, port: int) -> str:
    """The address to be typed into a browser."""
    host = serving.host
    if serving.lan and host in (LOOPBACK, EVERYWHERE, "localhost", "::", "::1"):
        host = _own_address()
    shown = f"[{host}]" if ":" in host else host
    return f"http://{shown}:{port}{serving.root_path}/"


def _config(app: Any, serving: Serving) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        http="h11",
        loop="asyncio",
        ws="none",
        lifespan="on",
        log_level="critical",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        root_path=serving.root_path,
        timeout_graceful_shutdown=GRACE_S,
    )


def _bound(serving: Serving) -> socket.socket:
    host = serving.listens_at
    try:
        family, kind, number, _, address = socket.getaddrinfo(host, serving.port, type=socket.SOCK_STREAM)[0]
        listening = socket.socket(family, kind, number)
    except OSError as error:
        raise BadUse(f"{host} is no address of this machine.", "Leave --host out, or name one.") from error
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen()  # who asks before the service is up is kept waiting, not sent away
    except OSError as error:
        listening.close()
        if error.errno == errno.EADDRINUSE:
            raise BadUse(
                f"Port {serving.port} is taken.", "Name another with --port, or stop what runs there."
            ) from error
        why = error.strerror or str(error)
        raise BadUse(
            f"{host} port {serving.port} cannot be used: {why}.", "Name another with --host and --port."
        ) from error
    return listening


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


def _own_address() -> str:
    """This machine's address on the network that leads elsewhere."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect((ELSEWHERE, 9))
            return str(asking.getsockname()[0])
        except OSError:
            return LOOPBACK


def _own_names() -> tuple[str, ...]:
    name = socket.gethostname().partition(".")[0]
    return (name, f"{name}.local") if parse_host(name) else ()
