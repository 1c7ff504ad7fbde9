"""Sound that stays in its file and is decoded anew, block by block, whenever it is gone through."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from optimiser.audio.decoding import decoded_blocks
from optimiser.audio.header import AudioHeader
from optimiser.audio.opening import Opened, opened
from optimiser.audio.reader import checked
from optimiser.errors import InvalidRecording
from optimiser.scoring import Samples


@dataclass(frozen=True)
class StoredSound:
    """The sound of a file, or of a file's bytes, whose header was checked. Made by `open_recording`.

    Attributes:
        source: the path, or the bytes.
        header: what the file says of itself.
        size: bytes in the file.
        changed_ns: when the file was last changed; 0 for bytes.
    """

    source: Path | bytes = field(repr=False)
    header: AudioHeader
    size: int
    changed_ns: int

    @property
    def rate_hz(self) -> int:
        """Samples per second."""
        return self.header.rate_hz

    @property
    def channels(self) -> int:
        """Channels, 1 to 8."""
        return self.header.channels

    @property
    def frames(self) -> int:
        """Samples per channel."""
        return self.header.frames

    @property
    def duration_s(self) -> float:
        """Seconds of sound."""
        return self.header.duration_s

    def blocks(self) -> Iterator[Samples]:
        """The sound from its start in blocks of (up to 65536, channels) float64, in constant memory.

        Raises:
            NotFound: the file is gone.
            InvalidRecording: with fault `changed` when the file is not the one whose header was checked, else
                `cut_off`, `damaged`, `not_finite` or `level`.
        """
        with opened(self.source) as file:
            self._check_same(file)
            yield from decoded_blocks(file.stream, self.header, file.name)
        with opened(self.source) as file:
            self._check_same(file)

    def _check_same(self, file: Opened) -> None:
        if (file.size, file.changed_ns) != (self.size, self.changed_ns):
            raise InvalidRecording(
                f"{file.name} was changed after it was opened.", "Leave it alone while it is measured.", fault="changed"
            )


def open_recording(source: str | Path | bytes, *, accept_truncated: bool = False) -> StoredSound:
    """Check a file's header, and hand out its sound as something that can be gone through again and again.

    Args:
        source: path or bytes of any kind of file that `read_recording` reads.
        accept_truncated: take what sound is there when the file is shorter than it claims; never so with FLAC.

    Raises:
        NotFound: no such file.
        InvalidRecording: one line on what is wrong, and how to mend it.
    """
    kept = source if isinstance(source, bytes) else Path(source)
    with opened(kept) as file:
        header = checked(file, accept_truncated=accept_truncated)
        return StoredSound(kept, header, file.size, file.changed_ns)
