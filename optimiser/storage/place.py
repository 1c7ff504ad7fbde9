"""Which database is meant by a URL or a path, and where its recordings and its lock lie."""

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from optimiser.errors import BadUse

_FILE: Final = "sqlite:///"
_SERVER: Final = re.compile(r"postgres(?:ql)?(?:\+psycopg)?://")
_PASSWORD: Final = re.compile(r"(?<=://)([^:/@]*):.*@|([?&]password=)[^&]*")
_KINDS_HINT: Final = "Give a path, sqlite:///PATH or postgresql+psycopg://USER@HOST/DATABASE."


@dataclass(frozen=True)
class StorePlace:
    """Where one store lies.

    Attributes:
        url: what the database library is given.
        file: the SQLite file, None for a server.
        audio: the folder of recordings.
        shown: how the place is named to people, without a password.
        makes_folder: whether a missing folder may be made; so for the user's own data folder alone, as elsewhere a
            missing folder is more likely a slip or a disk that is not there.
    """

    url: str
    file: Path | None
    audio: Path
    shown: str
    makes_folder: bool = False


def configured(url: str | None = None, audio: Path | None = None) -> StorePlace:
    """The place that is meant by flags, the environment and the default, in this order.

    Raises:
        BadUse: no store can lie there.
    """
    from optimiser.config import default_store, load_config

    config = load_config(store=url, audio=audio)
    return place_of(config.store, own=Path(default_store()), audio=config.audio)


def place_of(text: str, *, own: Path, audio: Path | None = None) -> StorePlace:
    """The place that a URL, or the path of an SQLite file, stands for.

    Args:
        text: URL or path.
        own: the default store's file.
        audio: folder of recordings; None for beside the file, or beside the default store for a server.

    Raises:
        BadUse: a kind of database that is not supported, one in memory, or options on a file.
    """
    server = _SERVER.match(text)
    if server is not None:
        url = "postgresql+psycopg://" + text[server.end() :]
        return StorePlace(url, None, _real(audio or own.parent / "audio"), _without_password(text))
    file = _real(_file_of(text))
    beside = file.with_name(file.name + ".audio")
    return StorePlace(f"{_FILE}{file}", file, _real(audio or beside), str(file), makes_folder=file == _real(own))


def _file_of(text: str) -> Path:
    if text in {"sqlite://", _FILE, ":memory:", f"{_FILE}:memory:"}:
        raise BadUse("A store in memory would be forgotten at once.", _KINDS_HINT)
    if "\0" in text or not text.strip():
        raise BadUse(f"{text!r} is not a place for a store.", _KINDS_HINT)
    if text.startswith(_FILE):
        path, options, _ = text.removeprefix(_FILE).partition("?")
        if options:
            raise BadUse("A store in a file takes no options.", f"Write {_FILE}{path}")
        return Path(path)
    if "://" in text:
        raise BadUse(f"A store cannot lie at {_without_password(text)!r}.", _KINDS_HINT)
    return Path(text)


def _real(path: Path) -> Path:
    """The file itself, so that two names for it share one lock."""
    return Path(os.path.realpath(os.path.expanduser(path)))


def _without_password(text: str) -> str:
    return _PASSWORD.sub(lambda found: f"{found[1]}@" if found[1] is not None else f"{found[2]}...", text)
