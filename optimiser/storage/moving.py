"""A whole store copied to another place, from one kind of database to the other or the same."""

from collections.abc import Callable
from dataclasses import dataclass

from optimiser.errors import BadUse
from optimiser.storage.census import StudyCensus, whole
from optimiser.storage.copying import copy_studies
from optimiser.storage.faults import told
from optimiser.storage.ledger import Store
from optimiser.storage.shelf import Copied, copy_shelf


@dataclass(frozen=True)
class Moved:
    """What was copied.

    Attributes:
        added: studies that were written.
        known: names of studies that were there already, the same.
        recordings: what became of the recordings.
    """

    added: tuple[StudyCensus, ...]
    known: tuple[str, ...]
    recordings: Copied


def copy_store(source: Store, target: Store, tell: Callable[[str], None] = lambda _: None) -> Moved:
    """Copy every study and recording; all studies or none. The source stays as it is; nobody may write to it meanwhile.

    Raises:
        BadUse: both are one store, or the target has another study of one of the names.
        StorageError: the source is damaged, or what was written is not what was read.
        Busy: somebody else is writing to one of them.
    """
    if source.site.url == target.site.url:
        raise BadUse(f"{target.site.shown} is the store itself.", "Name another place with --to.")
    with source.writing(), target.writing():
        studies = whole(source.census(), source.site.shown)
        refuse_clash(studies, target)
        with told(target.site.shown):
            recordings = copy_shelf(source.audio.entries(), source.audio.folder, target.audio.folder, tell)
        with source.connections.reading() as old, target.connections.transaction() as new:
            added = copy_studies(old, new, target.site.shown)
    names = {study.name for study in added}
    return Moved(added, tuple(study.name for study in studies if study.name not in names), recordings)


def refuse_clash(studies: tuple[StudyCensus, ...], target: Store) -> None:
    """See that no study of one of these names and of other content is in a store.

    Raises:
        BadUse: there are such studies.
    """
    digests = {study.name: study.digest for study in studies}
    there = target.census()
    clashing = [study.name for study in there if digests.get(study.name, study.digest) != study.digest]
    if clashing:
        names = ", ".join(clashing)
        shown = target.site.shown
        raise BadUse(f"{shown} has other studies called {names}; nothing was copied.", "Name an empty database.")
