"""A file whose header is being read: bytes or one clear line, and the checks that every kind of file shares."""

from dataclasses import dataclass
from typing import BinaryIO, Final

from optimiser.audio.header import AudioHeader, ByteOrder, Container, SoundForm
from optimiser.errors import InvalidRecording
from optimiser.scoring import MOST_CHANNELS, check_rate

MAX_CHUNKS: Final = 1000
"""Pieces before the sound. No recorder writes that many (common practice, no source)."""

EXPORT_AGAIN: Final = "Export it again as 24-bit WAV."
CUT_OFF_HINT: Final = (
    "Copy or export it again. Where no whole file is left, open it in an audio editor and save what is there as a new "
    "file."
)


@dataclass(frozen=True)
class HeaderFile:
    """A binary file, its size in bytes, and what it is called in messages."""

    stream: BinaryIO
    size: int
    name: str

    def problem(self, message: str, fault: str, hint: str = EXPORT_AGAIN) -> InvalidRecording:
        """The error that says so."""
        return InvalidRecording(f"{self.name} {message}.", hint, fault=fault)

    def take(self, count: int) -> bytes:
        """The next bytes, all of them.

        Raises:
            InvalidRecording: the file ends before.
        """
        found = self.stream.read(count)
        if len(found) < count:
            raise self.problem("ends in the middle of its header", "cut_off", "Copy or export it again.")
        return found

    def take_head(self, count: int) -> bytes | None:
        """The head of the next piece of the file, or None where the file ends."""
        found = self.stream.read(count)
        return found if len(found) == count else None

    def go_to(self, position: int) -> None:
        """Go on from this byte, or from the end of the file if it is shorter."""
        self.stream.seek(min(position, self.size))

    def no_sound(self) -> InvalidRecording:
        """The error for a header without sound behind it."""
        return self.problem(
            "holds no sound", "cut_off", "Copy or export it again; the recorder may have stopped early."
        )

    def endless(self) -> InvalidRecording:
        """The error for a header of too many pieces."""
        return self.problem("has a header without end", "header")


def checked_form(
    file: HeaderFile, rate_hz: float, channels: int, bits: int, subtype: str | None, byte_order: ByteOrder = "little"
) -> SoundForm:
    """The form of the sound, if it is one that is read.

    Raises:
        InvalidRecording: with fault `channels`, `rate` or `bits`.
    """
    if not 1 <= channels <= MOST_CHANNELS:
        raise file.problem(f"has {channels} channels", "channels", f"Export 1 to {MOST_CHANNELS} channels.")
    check_rate(rate_hz, file.name)
    if subtype is None:
        raise file.problem(f"has samples of {bits} bits", "bits", "Export it as 16, 24 or 32-bit PCM, or as float.")
    return SoundForm(int(rate_hz), channels, subtype, byte_order)


def checked_header(
    file: HeaderFile, container: Container, form: SoundForm, declared: int, *, accept_truncated: bool
) -> AudioHeader:
    """The header of unpacked sound that starts at the file's present place.

    Args:
        file: at the first byte of the sound.
        container: the kind of file.
        form: the form of the sound.
        declared: bytes of sound that the header claims.
        accept_truncated: take what sound is there when that is less.

    Raises:
        InvalidRecording: with fault `cut_off`.
    """
    start = file.stream.tell()
    there = file.size - start
    usable = there if declared == 0 else min(declared, there)
    if not 0 < declared <= there and not (accept_truncated and usable):
        raise file.problem(
            f"was cut off: it claims {declared} bytes of sound and holds {there}", "cut_off", CUT_OFF_HINT
        )
    if usable % form.frame_bytes and not (accept_truncated and usable >= form.frame_bytes):
        raise file.problem(
            f"ends in the middle of a sample: it claims {usable} bytes of sound, {form.frame_bytes} for each sample",
            "cut_off",
            CUT_OFF_HINT,
        )
    return AudioHeader(container, form, usable // form.frame_bytes, start)
