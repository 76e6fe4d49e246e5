# SPDX-License-Identifier: MIT
"""What the pages are made with: the registry, the access codes and what each may do, the hosts."""

from __future__ import annotations

import secrets
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from wiretrack.model.tags import ALPHABET

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Role = Literal["read", "log", "change"]
ROLES: tuple[Role, ...] = ("read", "log", "change")  # each may do what those before it may
LOOPBACK = frozenset({"127.0.0.1", "localhost", "[::1]"})
MADE_LENGTH, GROUP = 16, 4  # 16 signs of 32 are 80 bits


@dataclass(frozen=True)
class Code:
    """An access code and what it opens.

    A made one is random and too long to be guessed; a chosen one may be tried only a few times
    a minute.
    """

    text: str
    role: Role = "change"
    made: bool = False


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What `create_app` needs to know."""

    db: Path
    codes: tuple[Code, ...]
    hosts: frozenset[str] = LOOPBACK
    open_records: bool = False
    secure: bool = False
    longest_body: int = 64 * 1024
    processes: int = 1
    lock_file: Path | None = None  # by which several processes write one after the other
    clock: Callable[[], float] = field(default=time.monotonic)


def make_code() -> Code:
    """Return a new random access code of 80 bits, in groups that can be read aloud."""
    signs = "".join(secrets.choice(ALPHABET) for _ in range(MADE_LENGTH))
    groups = [signs[at : at + GROUP] for at in range(0, MADE_LENGTH, GROUP)]
    return Code("-".join(groups), made=True)
