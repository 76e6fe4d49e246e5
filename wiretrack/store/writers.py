# SPDX-License-Identifier: MIT
"""Who writes in this copy of a registry: one writer on one machine, with a key of its own.

The user's state folder keeps, for the registry at each path, its writer's key and last entry. A
registry that was copied, moved or put back from a backup doesn't fit what is kept there, so a new
writer begins: no two copies ever number their entries under one name.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from typing import TYPE_CHECKING, Any, Self

from wiretrack.chain import BEGINNING, writer_of
from wiretrack.errors import FileWriteError
from wiretrack.files import file_in_place

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
        found: dict[str, Any] = json.loads(_place(registry).read_text("utf-8"))
        return Writer(**found)
    except (OSError, ValueError, TypeError):
        return None


def keep(registry: Path, writer: Writer) -> None:
    """Keep it before its entry is durable: after a power cut it is ahead, and never behind.

    Where the state folder can't be written, the next change begins a new writer.
    """
    place = _place(registry)
    try:
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with file_in_place(place) as file:
            if hasattr(os, "fchmod"):  # Windows keeps a user's folder to its owner by itself
                os.fchmod(file.fileno(), 0o600)
            file.write(json.dumps(asdict(writer)).encode())
    except (OSError, FileWriteError):
        return


def move(registry: Path, to: Path) -> None:
    """Let the writer of the registry at one path be that of the same file at another."""
    with suppress(OSError):
        _place(registry).replace(_place(to))


def _place(registry: Path) -> Path:
    from platformdirs import user_state_path

    name = sha256(str(registry.resolve()).encode()).hexdigest()[:32]
    return user_state_path("wiretrack", appauthor=False) / "writers" / f"{name}.json"
