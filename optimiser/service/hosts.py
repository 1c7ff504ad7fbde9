"""Whose requests are meant for this service: the Host that a client names, and the Origin of the page that asks.

A page of somebody else can make a browser send requests here, and can make its own name resolve to this address; it
cannot make the browser say another Host or Origin than its own.
"""

import re
from collections.abc import Collection
from ipaddress import ip_address
from typing import Final, NamedTuple
from urllib.parse import urlsplit

_HOST: Final = re.compile(r"(\[[0-9a-fA-F:.]{2,45}\]|[0-9A-Za-z]([0-9A-Za-z.-]{0,251}[0-9A-Za-z])?)(?::(\d{1,5}))?")
_PORTS: Final = {"http": 80, "https": 443}
_LOCAL: Final = "localhost"


class Host(NamedTuple):
    """A host's name or address in lower case, and its port, None where none was named."""

    name: str
    port: int | None


def parse_host(header: str) -> Host | None:
    """Read a Host header; None for anything that is none."""
    found = _HOST.fullmatch(header)
    if found is None:
        return None
    port = int(found[3]) if found[3] else None
    if port is not None and not 0 < port < 65_536:
        return None
    name = found[1].lower()
    if name.startswith("[") and not _is_address(name[1:-1]):
        return None
    return Host(name, port)


def is_ours(host: Host, names: Collection[str]) -> bool:
    """Whether a host is this service: an address, `localhost`, or one of its names."""
    return host.name == _LOCAL or host.name in names or _is_address(host.name.strip("[]"))


def is_loopback(host: Host) -> bool:
    """Whether a host is the machine that asks, and nobody else's."""
    try:
        return host.name == _LOCAL or ip_address(host.name.strip("[]")).is_loopback
    except ValueError:
        return False


def same_origin(origin: str, host: Host, scheme: str) -> bool:
    """Whether a page of this origin was served from that host.

    A proxy in front may speak TLS where we are asked in plain words, so `https` stands for `http` too.
    """
    try:
        parts = urlsplit(origin)
        asked = parse_host(parts.netloc)
    except ValueError:
        return False
    if asked is None or parts.scheme not in (scheme, "https") or parts.path or parts.query or parts.fragment:
        return False
    ports = asked.port or _PORTS[parts.scheme], host.port or _PORTS[parts.scheme]
    return asked.name == host.name and ports[0] == ports[1]


def _is_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True
