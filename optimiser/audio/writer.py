"""Arrays into WAV files, whole or not at all."""

import os
import struct
from pathlib import Path
from typing import Final, Literal

import numpy as np

from optimiser.audio.header import BITS
from optimiser.audio.reader import MAX_FILE_BYTES
from optimiser.audio.wave_form import FLOAT_CODE, PCM_CODE
from optimiser.errors import InvalidRecording, StorageError
from optimiser.scoring import MOST_CHANNELS, Samples, check_finite, check_rate
from optimiser.units import decibels_from_ratio

Subtype = Literal["PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"]

_HEADER_BYTES: Final = 44
_LARGEST: Final = {"FLOAT": float(np.finfo(np.float32).max), "DOUBLE": float(np.finfo(np.float64).max)}


def write_wav(path: str | Path, samples: Samples, rate_hz: int, subtype: Subtype = "PCM_24") -> None:
    """Write sound to a WAV file: to a temporary name beside it first, forced to disk, then renamed.

    The same sound gives the same bytes. PCM is rounded to the nearest step, without dither.

    Args:
        path: where to; an existing file is replaced.
        samples: (n,) or (n, channels), full scale +-1.
        rate_hz: samples per second.
        subtype: form of a sample.

    Raises:
        InvalidRecording: nothing to write, more than 8 channels, a value that is no number, or sound above full scale
            in a form that would clip it.
        StorageError: the file cannot be written.
    """
    target = Path(path)
    content = wav_bytes(samples, rate_hz, subtype)
    try:
        _replace(target, content)
    except OSError as error:
        raise StorageError(
            f"{target} cannot be written ({error.strerror or error}).",
            "Check the folder, its rights and the space left.",
        ) from None


def wav_bytes(samples: Samples, rate_hz: int, subtype: Subtype = "PCM_24") -> bytes:
    """The bytes of a WAV file, as `write_wav` writes them [RIFF1991].

    Raises:
        InvalidRecording: as `write_wav`.
    """
    frames = np.asarray(samples, dtype=np.float64)
    frames = frames[:, None] if frames.ndim == 1 else frames
    _check(frames, rate_hz, subtype)
    data = _encoded(frames, subtype)
    channels, bits = frames.shape[1], BITS[subtype]
    code = FLOAT_CODE if subtype in ("FLOAT", "DOUBLE") else PCM_CODE
    align = channels * bits // 8
    form = struct.pack("<HHIIHH", code, channels, rate_hz, rate_hz * align, align, bits)
    padding = b"\0" * (len(data) % 2)
    size = _HEADER_BYTES - 8 + len(data) + len(padding)
    opening = b"RIFF" + struct.pack("<I", size) + b"WAVE" + b"fmt " + struct.pack("<I", len(form))
    return opening + form + b"data" + struct.pack("<I", len(data)) + data + padding


def _check(frames: Samples, rate_hz: int, subtype: Subtype) -> None:
    check_rate(rate_hz)
    if frames.ndim != 2 or not 1 <= frames.shape[1] <= MOST_CHANNELS or not frames.size:
        raise InvalidRecording(
            f"Sound of shape {frames.shape} cannot be written.",
            f"Hand in (n,) or (n, channels), up to {MOST_CHANNELS} channels.",
            fault="shape",
        )
    if frames.size * BITS[subtype] // 8 > MAX_FILE_BYTES - _HEADER_BYTES:
        raise InvalidRecording("The sound is too long for one file.", "Write it in parts.", fault="too_large")
    check_finite(frames, rate_hz, "The sound")
    peak = float(np.max(np.abs(frames)))
    if peak > _LARGEST.get(subtype, 1.0):
        raise InvalidRecording(
            f"The sound peaks at {decibels_from_ratio(peak):+.1f} dBFS and would be clipped.",
            "Lower it, or write it as float.",
            fault="clipping",
        )


def _encoded(frames: Samples, subtype: Subtype) -> bytes:
    if subtype in ("FLOAT", "DOUBLE"):
        return bytes(frames.astype("<f4" if subtype == "FLOAT" else "<f8").data)
    top = 2 ** (BITS[subtype] - 1)
    steps = np.clip(np.round(frames * top), -top, top - 1)
    if subtype == "PCM_16":
        return bytes(steps.astype("<i2").data)
    whole = bytes(steps.astype("<i4").data)
    if subtype == "PCM_32":
        return whole
    return np.frombuffer(whole, np.uint8).reshape(-1, 4)[:, :3].tobytes()


def _replace(target: Path, content: bytes) -> None:
    temporary = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with temporary.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    _settle(target.parent)


def _settle(folder: Path) -> None:
    """Force a rename to disk, where the system lets a folder be opened."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
