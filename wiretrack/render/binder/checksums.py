# SPDX-License-Identifier: MIT
"""The checksum list: a line a file, as the common tool ``sha256sum`` writes and checks it."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

NAME = "SHA256SUMS"
_LINE = re.compile(r"([0-9a-f]{64}) [ *](.+)")
_BLOCK = 1 << 20


def digest_of(file: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal."""
    found = hashlib.sha256()
    with file.open("rb") as stream:
        while block := stream.read(_BLOCK):
            found.update(block)
    return found.hexdigest()


def checksum_list(digests: Mapping[str, str]) -> str:
    """Return the list of these files, by name."""
    return "".join(f"{digests[name]}  {name}\n" for name in sorted(digests))


def read_list(text: str) -> dict[str, str]:
    """Return the digest of each file that a list names; empty where the text is no such list."""
    lines = [_LINE.fullmatch(line) for line in text.splitlines()]
    return {} if None in lines else {line[2]: line[1] for line in lines if line}


def differences(folder: Path) -> list[str]:
    """Return what in a folder isn't as its checksum list says: changed, missing and foreign files.

    A folder without such a list is all foreign.
    """
    try:
        listed = read_list((folder / NAME).read_text("utf-8"))
    except (OSError, UnicodeDecodeError):
        listed = {}
    there = {
        path.relative_to(folder).as_posix(): path
        for path in sorted(folder.rglob("*"))
        if path.is_symlink() or not path.is_dir()
    }
    if listed:
        there.pop(NAME, None)
    wrong = [
        name
        for name, digest in sorted(listed.items())
        if name not in there or there[name].is_symlink() or digest_of(there[name]) != digest
    ]
    return [*wrong, *(name for name in there if name not in listed)]
