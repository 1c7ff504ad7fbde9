"""Rows read straight from the pages of a damaged SQLite file, without its tree of pages and without SQLite.

Whatever page still looks like a leaf of a table is read, wherever it lies; a cell that makes no sense is passed over.
By SQLite's page on its file format: leaves of tables, cells with overflow, records, frames of the write-ahead log.
"""

import struct
from collections.abc import Iterator, Mapping
from typing import Final

Value = int | float | str | bytes | None
Row = tuple[int, tuple[Value, ...]]

_TABLE_LEAF: Final = 0x0D
_FILE_HEADER_BYTES: Final = 100
_USUAL_PAGE_BYTES: Final = 4096
_LOG_HEADER_BYTES: Final = 32
_FRAME_HEADER_BYTES: Final = 24
_LOG_MAGIC: Final = (0x377F0682, 0x377F0683)
_LARGEST_PAYLOAD: Final = 1 << 28
"""Bytes; a row of ours is far smaller (a choice, no source)."""

_INTEGER_BYTES: Final = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
_CONSTANTS: Final[Mapping[int, Value]] = {0: None, 8: 0, 9: 1}


def rows_in(file: bytes, log: bytes = b"") -> Iterator[Row]:
    """Every row that can be read of a database and its log: row number and values. A row may come more than once."""
    size = _page_bytes(file, log)
    pages = {place // size + 1: file[place : place + size] for place in range(0, len(file), size)}
    yield from _rows_of(pages, size)
    newer = dict(_pages_of_log(log, size))
    if newer:
        yield from _rows_of({**pages, **newer}, size)


def _page_bytes(file: bytes, log: bytes) -> int:
    for told in (file[16:18], log[10:12]):
        size = int.from_bytes(told, "big")
        size = 65536 if size == 1 else size
        if 512 <= size <= 65536 and size & (size - 1) == 0:
            return size
    return _USUAL_PAGE_BYTES


def _pages_of_log(log: bytes, size: int) -> Iterator[tuple[int, bytes]]:
    """Pages of every transaction that was committed to the log, the newest of a page last."""
    if len(log) < _LOG_HEADER_BYTES or int.from_bytes(log[:4], "big") not in _LOG_MAGIC:
        return
    salt, open_pages = log[16:24], list[tuple[int, bytes]]()
    for place in range(_LOG_HEADER_BYTES, len(log) - _FRAME_HEADER_BYTES - size + 1, _FRAME_HEADER_BYTES + size):
        number, commit = struct.unpack_from(">II", log, place)
        if log[place + 8 : place + 16] != salt:
            return
        start = place + _FRAME_HEADER_BYTES
        open_pages.append((number, log[start : start + size]))
        if commit:
            yield from open_pages
            open_pages.clear()


def _rows_of(pages: Mapping[int, bytes], size: int) -> Iterator[Row]:
    for number, page in pages.items():
        start = _FILE_HEADER_BYTES if number == 1 else 0
        if len(page) < start + 8 or page[start] != _TABLE_LEAF:
            continue
        cells = int.from_bytes(page[start + 3 : start + 5], "big")
        for cell in range(min(cells, size // 4)):
            pointer = start + 8 + 2 * cell
            try:
                yield _row(pages, page, int.from_bytes(page[pointer : pointer + 2], "big"), size)
            except (IndexError, KeyError, ValueError, struct.error):
                continue


def _row(pages: Mapping[int, bytes], page: bytes, place: int, size: int) -> Row:
    length, place = _varint(page, place)
    number, place = _varint(page, place)
    if length > _LARGEST_PAYLOAD:
        raise ValueError("no payload is that long")
    local = _local_bytes(length, size)
    payload = page[place : place + local]
    if len(payload) < local:
        raise ValueError("the page ends before its cell")
    if local < length:
        payload += _overflow(
            pages, int.from_bytes(page[place + local : place + local + 4], "big"), length - local, size
        )
    return number, tuple(_values(payload))


def _local_bytes(length: int, size: int) -> int:
    """How much of a payload lies on the leaf itself (section 1.6 of the file format)."""
    if length <= size - 35:
        return length
    least = (size - 12) * 32 // 255 - 23
    local = least + (length - least) % (size - 4)
    return local if local <= size - 35 else least


def _overflow(pages: Mapping[int, bytes], number: int, wanted: int, size: int) -> bytes:
    found, seen = b"", set[int]()
    while len(found) < wanted:
        if number in seen:
            raise ValueError("the pages go round in a circle")
        seen.add(number)
        page = pages[number]
        if len(page) < size:
            raise ValueError("the page is cut off")
        found += page[4:size]
        number = int.from_bytes(page[:4], "big")
    return found[:wanted]


def _values(payload: bytes) -> Iterator[Value]:
    header, place = _varint(payload, 0)
    data = header
    while place < header:
        kind, place = _varint(payload, place)
        length = _stored_bytes(kind)
        stored = payload[data : data + length]
        if len(stored) < length:
            raise ValueError("the payload ends before its values")
        data += length
        yield _value(kind, stored)


def _stored_bytes(kind: int) -> int:
    if kind >= 12:
        return (kind - 12) // 2
    return 8 if kind == 7 else _INTEGER_BYTES.get(kind, 0)


def _value(kind: int, stored: bytes) -> Value:
    if kind in _INTEGER_BYTES:
        return int.from_bytes(stored, "big", signed=True)
    if kind == 7:
        return float(struct.unpack(">d", stored)[0])
    if kind >= 12:
        return stored.decode() if kind % 2 else stored
    return _CONSTANTS[kind]


def _varint(data: bytes, place: int) -> tuple[int, int]:
    """A number of one to nine bytes, and where it ends."""
    number = 0
    for read in range(9):
        byte = data[place + read]
        if read == 8:
            return (number << 8) | byte, place + 9
        number = (number << 7) | (byte & 0x7F)
        if byte < 0x80:
            return number, place + read + 1
    raise ValueError("no number is that long")
