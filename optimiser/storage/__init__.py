"""Where a study is kept: a ledger of events in a database, and the recordings beside it.

Enters: events, names of studies, paths of recordings. Leaves: the same events, numbered from 1 without a gap, and
paths of kept recordings. May not know what an event means, how a proposal is made or a score comes about.
An event is never changed or removed; what is there when `append` returns outlives a crash.
"""

from optimiser.storage.audio_store import AudioFile, AudioStore
from optimiser.storage.ledger import Store, open_store

__all__ = ["AudioFile", "AudioStore", "Store", "open_store"]
