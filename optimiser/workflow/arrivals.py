"""Recordings that arrive piece by piece, and what they are called by those who sent them."""

from collections.abc import Mapping

from optimiser.audio import open_recording
from optimiser.errors import InvalidRecording
from optimiser.storage import Store, Upload
from optimiser.workflow.views import View


def add_piece(store: Store, upload: str, offset: int, piece: bytes) -> View:
    """Add the next piece of a recording; with the last one its sum and its header are checked.

    Raises:
        NotFound: no such upload.
        WrongOffset: the piece does not start where the next one goes.
        BadInput: more bytes than were announced, or another sum; the upload is dropped then.
        InvalidRecording: a file that is no sound which could be measured; the upload is dropped then.
    """
    told = store.uploads.add(upload, offset, piece)
    if told.whole:
        try:
            open_recording(told.path)
        except InvalidRecording as error:
            store.uploads.drop(upload)
            names = {upload: told.name}
            raise InvalidRecording(called(error.message, names), called(error.hint, names), error.fault) from None
    return recording_view(told)


def recording_view(upload: Upload) -> View:
    """How far a recording is."""
    return {
        "upload": upload.id,
        "name": upload.name,
        "bytes": upload.bytes,
        "offset": upload.offset,
        "whole": upload.whole,
    }


def called(text: str, names: Mapping[str, str]) -> str:
    """The same words with the files of uploads called as their senders call them."""
    for upload, name in names.items():
        shown = "".join(letter if letter.isprintable() else "?" for letter in name)
        text = text.replace(f"{upload}.whole", shown).replace(upload, shown)
    return text
