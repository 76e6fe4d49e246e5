# SPDX-License-Identifier: MIT
"""Who writes in this copy of a registry: one writer on one machine, with a key of its own.

The user's state folder keeps, for the registry at each path, its writer's key and last entry. A
registry that was copied, moved or put back from a backup doesn't fit what is kept there, so a new
writer begins: no two copies ever number their entries under one name.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Self

from wiretrack import state
from wiretrack.chain import BEGINNING, writer_of
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from pathlib import Path

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


@dataclass(frozen=True)
class Writer:
    """A writer and the last entry that it made for a site."""

    seed: str  # of its Ed25519 key, 32 bytes in hexadecimal digits
    site: str
    number: int = 0
    hash: str = BEGINNING.hex()

    @classmethod
    def new(cls, site: str) -> Self:
        """Return a writer that never wrote."""
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        return cls(Ed25519PrivateKey.generate().private_bytes_raw().hex(), site)

    @property
    def public_key(self) -> bytes:
        """The key that proves what it signed, 32 bytes."""
        return self._key.public_key().public_bytes_raw()

    @property
    def name(self) -> bytes:
        """The writer's name in the log, 16 bytes."""
        return writer_of(self.public_key)

    def sign(self, hash_: bytes) -> bytes:
        """Return its signature of an entry's hash, 64 bytes."""
        return self._key.sign(hash_)

    @property
    def _key(self) -> Ed25519PrivateKey:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(self.seed))

    def after(self, number: int, hash_: bytes) -> Writer:
        """Return the same writer, once it made this entry."""
        return replace(self, number=number, hash=hash_.hex())


def kept(registry: Path) -> Writer | None:
    """Return the writer kept for the registry at this path; None if there's none, or none fits."""
    try:
        return Writer(**state.kept(_USE, registry))
    except TypeError:
        return None


def keep(registry: Path, writer: Writer) -> None:
    """Keep it before its entry is durable: after a power cut it is ahead, and never behind.

    Where the state folder can't be written, the next change begins a new writer.
    """
    state.keep(_USE, registry, asdict(writer))


def forget(registry: Path) -> None:
    """Forget who writes in the registry at this path: the next change begins a new writer."""
    with suppress(OSError):
        state.place(_USE, registry).unlink()


def move(registry: Path, to: Path) -> None:
    """Let the writer of the registry at one path be that of the same file at another."""
    with suppress(OSError):
        state.place(_USE, registry).replace(state.place(_USE, to))


_USE = "writers"
