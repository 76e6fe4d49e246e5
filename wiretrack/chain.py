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
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

FORM = "wiretrack-log/1"
MOST_BYTES = 2**20  # of a body
BEGINNING = bytes(32)  # the hash before a writer's first entry
SALT_BYTES = 16
KEY_BYTES = 32


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
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def is_whole(entry: Entry) -> bool:
    """Return whether its body, or that it has none any more, is what its hash covers."""
    if entry.body is None:
        return entry.salt is None
    return sha256((entry.salt or b"") + entry.body).digest() == entry.content


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
    """Yield the first fault of each writer's chain, whose entries come in order, with their hash.

    `gone` are entries, by writer and number, that were lost by damage, or lost their signature.
    A chain proves that nothing in it was changed, left out or put in between, and the signatures
    that whoever has the writer's key wrote it. That entries are missing at its end, it can't show.
    """
    chains: dict[bytes, Chain] = {}
    broken = set()
    for entry, kept in entries:
        if entry.writer in broken:
            continue
        chain = chains.setdefault(entry.writer, Chain())
        why = chain.fault(entry, kept, gone)
        if why is not None:
            broken.add(entry.writer)
            yield Fault(entry.writer, entry.number, why)
    for writer, chain in chains.items():
        if writer not in broken and not chain.is_signed and (writer, chain.number) not in gone:
            yield Fault(writer, chain.number, "it is not signed")


@dataclass
class Chain:
    """How far a writer's entries are proved: the last one's number and hash, the site, the key."""

    number: int = 0
    hash: bytes = BEGINNING
    site: str = ""
    key: bytes = b""  # unknown where the first entry was lost
    is_signed: bool = True

    def fault(
        self, entry: Entry, kept: bytes | None = None, gone: Collection[tuple[bytes, int]] = ()
    ) -> str | None:
        """Return why an entry doesn't follow, else None and go on to it; `kept` is its hash."""
        why = self._fault(entry, kept, gone)
        if why is None and entry.number == 1:
            self.site, self.key, why = entry.site, *key_of(entry)
        if why is None and entry.signature is not None and self.key:
            why = forged(self.key, entry)
        if why is None:
            self.number, self.hash = entry.number, entry.hash
            self.is_signed = entry.signature is not None
        return why

    def _fault(
        self, entry: Entry, kept: bytes | None, gone: Collection[tuple[bytes, int]]
    ) -> str | None:
        number = self.number + 1
        before = range(number, entry.number)
        missing = next((n for n in before if (entry.writer, n) not in gone), None)
        if missing or entry.number < number:
            return f"entry {missing or number} is missing"
        said = (entry.salt or b"") + (entry.body or b"")
        if entry.body is not None and sha256(said).digest() != entry.content:
            return "its body was changed"
        if entry.previous != self.hash and entry.number == number:
            return "it doesn't follow the entry before it"
        return None if kept in (None, entry.hash) else "its hash is another"


def key_of(entry: Entry) -> tuple[bytes, str | None]:
    """Return the key that a writer's first entry names, or none and why."""
    try:
        public = bytes.fromhex(entry.said["key"])
    except (KeyError, TypeError, ValueError):
        return b"", "it names no key"
    if len(public) != KEY_BYTES:
        return b"", "it names no key"
    return public, None if writer_of(public) == entry.writer else "its key is another writer's"


def forged(key: bytes, entry: Entry) -> str | None:
    """Return that an entry isn't signed with this key; None if it is."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(key).verify(entry.signature or b"", entry.hash)
    except (InvalidSignature, ValueError):
        return "its signature is wrong"
    return None
