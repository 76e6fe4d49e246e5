# SPDX-License-Identifier: MIT
"""Entries of the log out of a damaged file, without sqlite: wherever a page still holds one.

An entry's record begins with bytes that say how long each of its values is, and most of them have
one length (sqlite.org/fileformat2.html, 2.1). They are looked for in each page of the file and of
its write-ahead log; what lies on further pages is followed. What is found proves itself, or not.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

PAGE_BYTES = 4096  # sqlite's own choice; no registry has another one
_BLOCK = 2**16
_WAL_HEAD, _FRAME_HEAD = 32, 24
# nr (in the row's number), writer, number, hash, previous, content, salt: see the table `log`.
_BEGINNING = re.compile(rb"\x00\x2c[\x01-\x06\x08\x09]\x4c\x4c\x4c[\x2c\x00]")
_COLUMNS = (
    "nr", "writer", "number", "hash", "previous", "content", "salt", "body", "signature", "have",
)  # fmt: skip
_INTEGERS = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}  # bytes of an integer, by its type

Row = dict[str, Any]


def read(path: Path) -> bytes:
    """Return what of a file can be read; zeros stand for the blocks that the medium lost."""
    found = bytearray()
    with path.open("rb", buffering=0) as file:
        size = file.seek(0, 2)
        while len(found) < size:
            file.seek(len(found))
            wanted = min(_BLOCK, size - len(found))
            try:
                block = file.read(wanted)
            except OSError:
                block = bytes(wanted)
            if not block:
                break
            found += block
    return bytes(found)


def log_rows(data: bytes, wal: bytes) -> Iterator[Row]:
    """Yield each row of the log that a file or its write-ahead log holds, some of them twice."""
    pages: dict[int, bytes] = {
        at // PAGE_BYTES + 1: data[at : at + PAGE_BYTES] for at in range(0, len(data), PAGE_BYTES)
    }
    for page in list(pages.values()):
        yield from _in(page, pages)
    fresh: list[bytes] = []
    step = _FRAME_HEAD + PAGE_BYTES
    for at in range(_WAL_HEAD, len(wal), step):
        head, page = wal[at : at + _FRAME_HEAD], wal[at + _FRAME_HEAD : at + step]
        pages[int.from_bytes(head[:4], "big")] = page
        fresh.append(page)
        if any(head[4:8]) or at + 2 * step > len(wal):  # a commit ends here
            for each in fresh:
                yield from _in(each, pages)
            fresh = []


def _in(page: bytes, pages: Mapping[int, bytes]) -> Iterator[Row]:
    for match in _BEGINNING.finditer(page):
        try:
            yield _row(page, match.start() - 1, pages)
        except (IndexError, ValueError):
            continue


def _row(page: bytes, start: int, pages: Mapping[int, bytes]) -> Row:
    """Return the row whose record begins at `start` of a page."""
    if start < 0:
        raise ValueError("no record begins before its page")
    at, types = start + 1, []
    end = start + page[start]
    while at < end:
        kind, at = _varint(page, at)
        types.append(kind)
    if at != end or len(types) != len(_COLUMNS):
        raise ValueError("it has other columns")
    sizes = [_size(kind) for kind in types]
    record = _record(page, start, page[start] + sum(sizes), pages)
    row, at = {}, page[start]
    for name, kind, size in zip(_COLUMNS, types, sizes, strict=True):
        row[name] = _value(kind, record[at : at + size])
        at += size
    return row | {"nr": _number(page, start, len(record))}


def _number(page: bytes, start: int, size: int) -> int | None:
    """Return the row's number, which stands ahead of its record, behind that one's size."""
    for length in range(1, 5):
        for before in range(1, 5):
            at = start - length - before
            try:
                if at >= 0 and _varint(page, at) == (size, start - length):
                    number, end = _varint(page, start - length)
                    if end == start:
                        return number
            except (IndexError, ValueError):
                continue
    return None


def _record(page: bytes, start: int, size: int, pages: Mapping[int, bytes]) -> bytes:
    """Return a whole record, with what of it lies on overflow pages (fileformat2, 1.6)."""
    if size <= PAGE_BYTES - 35:
        record = page[start : start + size]
    else:
        least = (PAGE_BYTES - 12) * 32 // 255 - 23
        local = least + (size - least) % (PAGE_BYTES - 4)
        local = local if local <= PAGE_BYTES - 35 else least
        record = page[start : start + local]
        number = int.from_bytes(page[start + local : start + local + 4], "big")
        parts, there = [record], local
        while there < size:
            following = pages.get(number, b"")
            part = following[4 : 4 + size - there]
            if not part:
                break
            number = int.from_bytes(following[:4], "big")
            parts.append(part)
            there += len(part)
        record = b"".join(parts)
    if len(record) != size:
        raise ValueError("it was cut off")
    return record


def _varint(page: bytes, at: int) -> tuple[int, int]:
    """Return a number of one to four bytes, and where the next one begins."""
    value = 0
    for more in range(4):
        byte = page[at + more]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + more + 1
    raise ValueError("no value of an entry is so long")


def _size(kind: int) -> int:
    if kind in _INTEGERS:
        return _INTEGERS[kind]
    if kind in (0, 8, 9):
        return 0
    if kind < 12 or kind % 2:
        raise ValueError("an entry has no such value")
    return (kind - 12) // 2


def _value(kind: int, data: bytes) -> bytes | int | None:
    if kind in _INTEGERS:
        return int.from_bytes(data, "big", signed=True)
    return {0: None, 8: 0, 9: 1}.get(kind, data)
