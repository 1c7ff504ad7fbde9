"""Where a study is kept: a ledger of events in a database, and the recordings beside it.

Enters: events, names of studies, paths of recordings. Leaves: the same events, numbered from 1 without a gap, and
paths of kept recordings. May not know what an event means, how a proposal is made or a score comes about.
An event is never changed or removed; what is there when `append` returns outlives a crash.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Final

from optimiser.storage.audio_store import AudioStore
from optimiser.storage.blind_tests import BlindTest
from optimiser.storage.jobs import LEASE_S, Job
from optimiser.storage.ledger import Store, open_store
from optimiser.storage.place import configured
from optimiser.storage.rows import Change
from optimiser.storage.sessions import Session
from optimiser.storage.shelf import AudioFile, Copied, copy_shelf, place_in
from optimiser.storage.uploads import Upload, WrongOffset

if TYPE_CHECKING:
    from optimiser.storage.backup import back_up
    from optimiser.storage.diagnosis import Finding, diagnosed, how_to_recover
    from optimiser.storage.moving import copy_store
    from optimiser.storage.recovery import contents, opened_source, put_ledger
    from optimiser.storage.salvage import SalvagedStudy

_KEEPING: Final = {
    "Finding": "diagnosis",
    "SalvagedStudy": "salvage",
    "back_up": "backup",
    "contents": "recovery",
    "copy_store": "moving",
    "diagnosed": "diagnosis",
    "how_to_recover": "diagnosis",
    "opened_source": "recovery",
    "put_ledger": "recovery",
}

__all__ = [
    "LEASE_S",
    "AudioFile",
    "AudioStore",
    "BlindTest",
    "Change",
    "Copied",
    "Finding",
    "Job",
    "SalvagedStudy",
    "Session",
    "Store",
    "Upload",
    "WrongOffset",
    "back_up",
    "configured",
    "contents",
    "copy_shelf",
    "copy_store",
    "diagnosed",
    "how_to_recover",
    "open_store",
    "opened_source",
    "place_in",
    "put_ledger",
]


def __getattr__(name: str) -> object:
    """Load what keeps a store safe on first use (PEP 562): it needs the database library, a quick command does not."""
    if name in _KEEPING:
        return getattr(import_module(f"optimiser.storage.{_KEEPING[name]}"), name)
    raise AttributeError(f"module 'optimiser.storage' has no attribute {name!r}")
