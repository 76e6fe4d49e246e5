# SPDX-License-Identifier: MIT
"""The log's entries: what is hashed and signed, and whether a chain of them holds together.

Everything acknowledged is an entry of a log. Each copy of a registry has a writer of its own, whose
entries are numbered from 1 and chained: each hash covers the hash before it. ``schemas/log.md``
describes the form, so that a chain can be proved without this program. SHA-256: FIPS 180-4;
Ed25519: RFC 8032.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from hashlib import sha256
from itertools import groupby
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

FORM = "wiretrack-log/1"
MOST_BYTES = 2**20  # of a body
BEGINNING = bytes(32)  # the hash before a writer's first entry
SALT_BYTES = 16


@dataclass(frozen=True)
class Entry:
    """One entry as it is kept and handed on; `body` is None where its words were erased."""

    writer: bytes  # 16
    number: int  # from 1
    site: str
    previous: bytes
    content: bytes  # SHA-256 of salt and body
    salt: bytes | None
    body: bytes | None
    signature: bytes | None = None  # of the last entry of a commit; it covers all before it

    @property
    def hash(self) -> bytes:
        """The entry's SHA-256, over the lines that `header` gives."""
        return sha256(self.header).digest()

    @property
    def header(self) -> bytes:
        r"""The form's version, site, writer, number, previous hash and content hash, a line each.

        >>> Entry(bytes(16), 1, "S", bytes(32), bytes(32), None, None).header.split(b"\n")[:4]
        [b'wiretrack-log/1', b'S', b'00000000000000000000000000000000', b'1']
        """
        parts = (
            FORM, self.site, self.writer.hex(), self.number, self.previous.hex(),
            self.content.hex(),
        )  # fmt: skip
        return "".join(f"{part}\n" for part in parts).encode()

    @property
    def said(self) -> dict[str, Any]:
        """What the body says: its first line, a JSON object."""
        return said_in(self.body)

    @property
    def data(self) -> bytes:
        """The bytes that a part of a file carries, after the body's first line."""
        return b"" if self.body is None else self.body.partition(b"\n")[2]


def said_in(body: bytes | None) -> dict[str, Any]:
    """Return what a body says; nothing of one that was erased or is damaged."""
    try:
        found = json.loads((body or b"{}").partition(b"\n")[0])
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def writer_of(public_key: bytes) -> bytes:
    """Return the name of the writer with this Ed25519 key (32 bytes): nobody else can bear it."""
    return sha256(public_key).digest()[:16]


def sealed(
    said: dict[str, Any], writer: bytes, number: int, site: str, previous: bytes, data: bytes = b""
) -> Entry:
    """Return a new entry that says this, with a salt of its own."""
    line = json.dumps(said, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()
    body = line + b"\n" + data if data else line
    if len(body) > MOST_BYTES:
        raise ValueError(f"A body has {len(body)} bytes; at most {MOST_BYTES} are allowed.")
    salt = os.urandom(SALT_BYTES)
    return Entry(writer, number, site, previous, sha256(salt + body).digest(), salt, body)


@dataclass(frozen=True)
class Fault:
    """The first entry of a writer that doesn't fit, and why."""

    writer: bytes
    number: int
    why: str


def faults(
    entries: Iterable[tuple[Entry, bytes]], gone: Collection[tuple[bytes, int]] = ()
) -> Iterator[Fault]:
    """Yield the first fault of each writer's chain; entries by writer and number, with their hash.

    `gone` are entries, by writer and number, that were lost by damage, or lost their signature.
    A chain proves that nothing in it was changed, left out or put in between, and the signatures
    that whoever has the writer's key wrote it. That entries are missing at its end, it can't show.
    """
    for writer, several in groupby(entries, lambda each: each[0].writer):
        before: Entry | None = None
        key: Any = None
        why: str | None = None
        for entry, kept in several:
            why = _fault(entry, kept, before, gone)
            if why is None and entry.number == 1:
                key, why = _key(entry)
            if why is None and entry.signature is not None and (before is None or key):
                why = _forged(key, entry) if key else None
            before = entry
            if why is not None:
                break
        if before and why is None and before.signature is None:
            why = None if (writer, before.number) in gone else "it is not signed"
        if before and why is not None:
            yield Fault(writer, before.number, why)


def _fault(
    entry: Entry, kept: bytes, before: Entry | None, gone: Collection[tuple[bytes, int]]
) -> str | None:
    number, previous = (1, BEGINNING) if before is None else (before.number + 1, before.hash)
    missing = next((n for n in range(number, entry.number) if (entry.writer, n) not in gone), None)
    if missing or entry.number < number:
        return f"entry {missing or number} is missing"
    said = (entry.salt or b"") + (entry.body or b"")
    if entry.body is not None and sha256(said).digest() != entry.content:
        return "its body was changed"
    if entry.previous != previous and entry.number == number:
        return "it doesn't follow the entry before it"
    return None if entry.hash == kept else "its hash is another"


def _key(entry: Entry) -> tuple[Any, str | None]:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        public = bytes.fromhex(entry.said["key"])
        key = Ed25519PublicKey.from_public_bytes(public)
    except (KeyError, TypeError, ValueError):
        return None, "it names no key"
    return key, None if writer_of(public) == entry.writer else "its key is another writer's"


def _forged(key: Any, entry: Entry) -> str | None:
    from cryptography.exceptions import InvalidSignature

    try:
        key.verify(entry.signature, entry.hash)
    except InvalidSignature:
        return "its signature is wrong"
    return None
