"""Files that no recorder would write, each made from its number alone."""

import io
import struct
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

RATE_HZ = 48_000
SECONDS = 3
HEADER_BYTES = 120
FORMS = (
    ("WAV", "PCM_24", "FILE"),
    ("WAVEX", "FLOAT", "FILE"),
    ("RF64", "PCM_16", "FILE"),
    ("W64", "PCM_24", "FILE"),
    ("AIFF", "PCM_16", "FILE"),
    ("AIFF", "PCM_24", "LITTLE"),
    ("AIFF", "FLOAT", "FILE"),
    ("FLAC", "PCM_16", "FILE"),
    ("FLAC", "PCM_24", "FILE"),
    ("WAV", "DOUBLE", "FILE"),
)
SIZES = (0, 1, 2, 7, 0x7F, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFF8, 0xFFFFFFFF)
ODD_FLOATS = (np.nan, np.inf, -np.inf, 1e38, -3e38, 1e200, -1e300, 1e-42, 300.0, 0.0)
RATES_80_BITS = (bytes(10), b"\x7f\xff" + bytes(8), b"\x7f\xff" + b"\xff" * 8, b"\xc0\x0e\xbb\x80" + bytes(6))

Rng = np.random.Generator
Trick = Callable[[Rng, tuple[str, str, str]], bytes]


@cache
def good(container: str, subtype: str, endian: str) -> bytes:
    """Three seconds of decaying noise bursts in two channels, as libsndfile writes them."""
    rng = np.random.default_rng(7)
    burst = rng.normal(size=(RATE_HZ // 3, 1)) * np.exp(-np.arange(RATE_HZ // 3) / 3000)[:, None]
    sound = np.zeros((SECONDS * RATE_HZ, 2))
    for start in range(0, SECONDS * RATE_HZ - RATE_HZ // 2, RATE_HZ // 2):
        sound[start : start + len(burst)] += 0.15 * burst
    file = io.BytesIO()
    soundfile.write(file, np.clip(sound, -1, 1), RATE_HZ, format=container, subtype=subtype, endian=endian)
    return file.getvalue()


def flipped_bits(rng: Rng, form: tuple[str, str, str]) -> bytes:
    content = bytearray(good(*form))
    for place in rng.integers(0, HEADER_BYTES, rng.integers(1, 9)):
        content[place] ^= 1 << int(rng.integers(8))
    return bytes(content)


def random_header_bytes(rng: Rng, form: tuple[str, str, str]) -> bytes:
    content = bytearray(good(*form))
    start, length = int(rng.integers(0, 80)), int(rng.integers(1, 40))
    content[start : start + length] = rng.bytes(length)
    return bytes(content)


def strange_sizes(rng: Rng, form: tuple[str, str, str]) -> bytes:
    content = bytearray(good(*form))
    for place in 2 * rng.integers(0, HEADER_BYTES // 2, rng.integers(1, 4)):
        how = str(rng.choice(["<I", ">I", "<H", ">H"]))
        struct.pack_into(how, content, int(place), int(rng.choice(SIZES)) & (2 ** (8 * struct.calcsize(how)) - 1))
    return bytes(content)


def swapped_names(rng: Rng, form: tuple[str, str, str]) -> bytes:
    content = good(*form)
    names = [name for name in (b"fmt ", b"data", b"COMM", b"SSND", b"fact", b"WAVE", b"ds64") if name in content[:200]]
    if len(names) < 2:
        return content[:4] + bytes([int(rng.integers(256))]) + content[5:]
    one, other = rng.choice(len(names), 2, replace=False)
    places = content.index(names[one]), content.index(names[other])
    swapped = bytearray(content)
    swapped[places[0] : places[0] + 4], swapped[places[1] : places[1] + 4] = names[other], names[one]
    return bytes(swapped)


def cut_off(rng: Rng, form: tuple[str, str, str]) -> bytes:
    content = good(*form)
    return content[: int(rng.integers(0, len(content)))]


def tiny(rng: Rng, form: tuple[str, str, str]) -> bytes:
    return good(*form)[: int(rng.integers(0, 21))]


def wave(fmt: bytes, data: bytes, *, before: bytes = b"", after: bytes = b"", claimed: int | None = None) -> bytes:
    size = len(data) if claimed is None else claimed
    body = b"WAVE" + before + b"fmt " + struct.pack("<I", len(fmt)) + fmt + b"data" + struct.pack("<I", size) + data
    return b"RIFF" + struct.pack("<I", len(body + after)) + body + after


def absurd_form(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """Rates, channels and bits that cannot be, the rest of the header made to fit."""
    content = bytearray(good(*form))
    rate_hz = int(rng.choice([0, 1, 7999, 8000, 384_001, 2**31, 2**32 - 1, RATE_HZ]))
    channels = int(rng.choice([0, 1, 2, 8, 9, 255, 256, 65_535]))
    bits = int(rng.choice([0, 1, 8, 12, 16, 24, 32, 64, 65_535]))
    if form[0] == "AIFF":
        place = content.index(b"COMM") + 8
        struct.pack_into(">h", content, place, channels if channels < 32_768 else channels - 65_536)
        content[place + 8 : place + 18] = RATES_80_BITS[int(rng.integers(len(RATES_80_BITS)))]
        return bytes(content)
    if form[0] == "FLAC":
        packed = int.from_bytes(content[18:26], "big")
        top = (rate_hz & 0xFFFFF) << 44 | (channels & 7) << 41 | (bits & 31) << 36
        content[18:26] = (top | packed & (1 << 36) - 1).to_bytes(8, "big")
        return bytes(content)
    align = channels * bits // 8 & 0xFFFF
    fmt = struct.pack("<HHIIHH", 1, channels, rate_hz, rate_hz * align & 0xFFFFFFFF, align, bits)
    return wave(fmt, bytes(content[200:]))


FMT = struct.pack("<HHIIHH", 1, 1, RATE_HZ, 3 * RATE_HZ, 3, 24)


def nested_pieces(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """Pieces in pieces, many pieces before or after the sound, a whole file inside another."""
    inner = good(*form)
    sound = good("WAV", "PCM_24", "FILE")[44 : 44 + 6 * RATE_HZ]
    kind = int(rng.integers(4))
    if kind == 0:
        nest = b""
        for _ in range(int(rng.integers(1, 300))):
            nest = b"LIST" + struct.pack("<I", len(nest) + 4) + b"INFO" + nest
        return wave(FMT, sound, before=nest)
    if kind == 1:
        return wave(FMT, sound, before=b"junk" + struct.pack("<I", len(inner)) + inner + b"\0" * (len(inner) % 2))
    many = b"".join(b"LIST" + struct.pack("<I", 4) + b"INFO" for _ in range(int(rng.choice([900, 1100, 200_000]))))
    return wave(FMT, sound, after=many) if kind == 2 else wave(FMT, sound, before=many)


def giant_pieces(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """Pieces that claim gigabytes, and one that really is megabytes long."""
    sound = good("WAV", "PCM_24", "FILE")[44 : 44 + 6 * RATE_HZ]
    if rng.integers(2):
        length = int(rng.integers(1, 9)) << 20
        return wave(FMT, sound, before=b"LIST" + struct.pack("<I", length) + bytes(length))
    claimed = int(rng.choice([2**31 - 2, 2**31, 2**32 - 8, 2**32 - 1]))
    if rng.integers(2):
        return wave(FMT, sound, before=b"LIST" + struct.pack("<I", claimed))
    return wave(FMT, sound, claimed=claimed) if form[0] != "RF64" else b"RF64" + wave(FMT, sound, claimed=claimed)[4:]


def other_files(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """Archives, pictures, text and lossy sound under the name of a WAV file."""
    kind = int(rng.integers(8))
    if kind == 0:
        file = io.BytesIO()
        with zipfile.ZipFile(file, "w") as archive:
            archive.writestr("take.wav", good(*form)[:5000])
        return file.getvalue()
    if kind < 4:
        container, subtype = (("OGG", "VORBIS"), ("OGG", "OPUS"), ("MP3", "MPEG_LAYER_III"))[kind - 1]
        lossy = io.BytesIO()
        soundfile.write(lossy, rng.uniform(-0.5, 0.5, RATE_HZ), RATE_HZ, format=container, subtype=subtype)
        return lossy.getvalue()
    openings = (b"\x89PNG\r\n\x1a\n", b"%PDF-1.7\n", b"\x1f\x8b\x08", "gain at half past one\n".encode("utf-16"))
    return openings[kind - 4] + rng.bytes(int(rng.integers(0, 5000)))


def odd_floats(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """Values that are no numbers, or far beyond full scale, written by libsndfile."""
    sound = rng.normal(0, 0.1, (SECONDS * RATE_HZ, 2))
    for place in rng.integers(0, len(sound), rng.integers(1, 50)):
        sound[place, int(rng.integers(2))] = ODD_FLOATS[int(rng.integers(len(ODD_FLOATS)))]
    file = io.BytesIO()
    container = form[0] if form[0] != "FLAC" else "WAV"
    soundfile.write(file, sound, RATE_HZ, format=container, subtype=str(rng.choice(["FLOAT", "DOUBLE"])))
    return file.getvalue()


def useless_sound(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """Good files whose sound cannot be compared with anything: silence, a constant, one sample, clicks, full scale."""
    frames = int(rng.choice([1, 2, 100, RATE_HZ // 10, SECONDS * RATE_HZ]))
    sound = np.zeros((frames, int(rng.integers(1, 9))))
    kind = int(rng.integers(5))
    if kind == 1:
        sound += rng.uniform(-1, 1)
    elif kind == 2:
        sound[:: int(rng.integers(1, 5000))] = 1.0
    elif kind == 3:
        sound = np.sign(rng.normal(size=sound.shape)) * 0.999
    elif kind == 4:
        sound[frames // 2 :] = rng.normal(0, 1e-6, sound[frames // 2 :].shape)
    file = io.BytesIO()
    soundfile.write(file, sound, int(rng.choice([8000, 44_100, RATE_HZ])), format=form[0], subtype=form[1])
    return file.getvalue()


def broken_body(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """Stretches of the sound overwritten, repeated, left out or put elsewhere; in FLAC, frames."""
    form = form if form[0] == "FLAC" else ("FLAC", "PCM_24", "FILE")
    content = bytearray(good(*form))
    start = int(rng.integers(42, len(content) - 2000))
    end = start + int(rng.integers(1, 20_000))
    kind = int(rng.integers(5))
    piece = content[start:end]
    if kind == 0:
        content[start:end] = rng.bytes(len(piece))
    elif kind == 1:
        content[start:end] = bytes(len(piece))
    elif kind == 2:
        content[start:start] = piece
    elif kind == 3:
        del content[start:end]
    else:
        content[42:42] = piece
    return bytes(content)


def strange_flac(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """FLAC whose pieces before the first frame are many, missing, endless or wrong about the length."""
    content = bytearray(good("FLAC", "PCM_24" if form[1] == "PCM_24" else "PCM_16", "FILE"))
    kind = int(rng.integers(5))
    if kind == 0:
        content[21:26] = (content[21] & 0xF0).to_bytes(1, "big") + rng.bytes(4)
    elif kind == 1:
        content[42:42] = b"\1\0\0\0" * int(rng.choice([1, 900, 2000]))
    elif kind == 2:
        content[4:8] = b"\x84" + rng.bytes(3)
    elif kind == 3:
        content[8:12] = rng.bytes(4)
    else:
        content[42:46] = b"\4" + int(rng.integers(1 << 24)).to_bytes(3, "big")
    return bytes(content)


def spliced(rng: Rng, form: tuple[str, str, str]) -> bytes:
    """The start of one kind of file and the end of another."""
    other = FORMS[int(rng.integers(len(FORMS)))]
    return good(*form)[: int(rng.integers(4, 200))] + good(*other)[int(rng.integers(0, 200)) :]


TRICKS: tuple[Trick, ...] = (
    flipped_bits,
    random_header_bytes,
    strange_sizes,
    swapped_names,
    cut_off,
    tiny,
    absurd_form,
    nested_pieces,
    giant_pieces,
    other_files,
    odd_floats,
    useless_sound,
    broken_body,
    strange_flac,
    spliced,
)


def hostile(number: int) -> tuple[str, bytes]:
    """The name of the trick and the bytes of the file with this number."""
    trick = TRICKS[number % len(TRICKS)]
    form = FORMS[number // len(TRICKS) % len(FORMS)]
    return trick.__name__, trick(np.random.default_rng(number), form)


def write_good(path: Path) -> None:
    """The file that the hostile ones are compared with."""
    path.write_bytes(good("WAV", "PCM_24", "FILE"))
