# SPDX-License-Identifier: MIT
"""The folder of a binder: what may stand where it is to go, and putting it there whole.

Its checksum list has a line a file, as the common tool ``sha256sum`` writes and checks it.
"""

from __future__ import annotations

import hashlib
import os
import re
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack.errors import BinderPlaceError, Hint
from wiretrack.files import new_folder
from wiretrack.plain import few, safe

if TYPE_CHECKING:
    from collections.abc import Iterator


MARK = "README.txt"  # its first line tells a binder from other folders
FIRST_LINE = "WIRETRACK SITE BINDER"
_SHOWN = 3


class Draft:
    """A binder being written, beside the place that it will have."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.digests: dict[str, str] = {}
        self.bytes = 0
        self._made = {"."}

    def write(self, name: str, text: str | bytes) -> None:
        """Write one file of the binder; its folder is made where it is the first."""
        parent = name.rpartition("/")[0] or "."
        if parent not in self._made:
            (self.folder / parent).mkdir(parents=True, exist_ok=True)
            self._made.add(parent)
        content = text.encode("utf-8") if isinstance(text, str) else text
        (self.folder / name).write_bytes(content)
        self.digests[name] = hashlib.sha256(content).hexdigest()
        self.bytes += len(content)

    def note(self, name: str) -> None:
        """Take a file into the checksum list that another part of the program wrote."""
        file = self.folder / name
        self.digests[name] = digest_of(file)
        self.bytes += file.stat().st_size

    def take(self, part: Draft) -> None:
        """Take into the checksum list what was written as another part of the same draft."""
        self.digests |= part.digests
        self.bytes += part.bytes

    def close(self) -> None:
        """Write the checksum list; nothing may be written after it."""
        lines = (f"{self.digests[name]}  {name}\n" for name in sorted(self.digests))
        self.bytes += (self.folder / CHECKSUMS).write_bytes("".join(lines).encode("utf-8"))


@contextmanager
def new_binder(target: Path, *, replace: bool = False) -> Iterator[Draft]:
    """Give a draft to write into; it becomes `target` when the block ends without an error.

    The block closes it itself. `BinderPlaceError` if something stands at `target` that must not be
    touched; `FileWriteError` if the medium refuses; nothing is left behind and what was there is
    untouched.
    """
    place = Path(os.path.realpath(target))
    older = _older(target, place, replace=replace)
    with new_folder(target, replace=older) as draft:
        yield Draft(draft)
        if hasattr(os, "sync"):  # on the medium before it gets its name
            os.sync()


def _older(target: Path, place: Path, *, replace: bool) -> bool:
    """Return whether an older binder stands at `place`, to be replaced; refuse anything else."""
    name = safe(str(target))
    if place.parent.exists() and not place.parent.is_dir():
        raise BinderPlaceError(name, f"can't be: {place.parent} is a file", "Name another place")
    if not place.parent.is_dir():
        raise BinderPlaceError(name, "has no folder to stand in", f"Make {place.parent} first")
    if not place.exists():
        return False
    if not place.is_dir():
        raise BinderPlaceError(name, "is a file", "Name a folder")
    if os.path.ismount(place) or place == Path.cwd():
        what = "a whole medium" if os.path.ismount(place) else "the folder that you are in"
        raise BinderPlaceError(name, f"is {what}", f"Name a folder in it: {target / 'binder'}")
    found = sorted(entry.name for entry in place.iterdir())
    if not found:
        return False
    if not _is_binder(place):
        raise BinderPlaceError(
            name,
            f"holds other files ({few([*map(safe, found)], _SHOWN)})",
            "Name a new or an empty folder",
        )
    if not replace:
        hint = Hint("Add {replace} to put the new one in its place, or name another folder.")
        raise BinderPlaceError(name, "holds a binder already", hint)
    changed = differences(place)
    if changed:
        raise BinderPlaceError(
            name,
            f"holds a binder that isn't as it was written ({few([*map(safe, changed)], _SHOWN)})",
            "Look at what was changed or added there; name another folder, or remove it yourself",
        )
    return True


def _is_binder(place: Path) -> bool:
    try:
        with (place / MARK).open(encoding="utf-8") as stream:
            first = stream.readline(200).strip()
    except (OSError, UnicodeDecodeError):
        return False
    return first == FIRST_LINE and (place / CHECKSUMS).is_file()


CHECKSUMS = "SHA256SUMS"
_LINE = re.compile(r"([0-9a-f]{64}) [ *](.+)")
_BLOCK = 1 << 20


def digest_of(file: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal."""
    found = hashlib.sha256()
    with file.open("rb") as stream:
        while block := stream.read(_BLOCK):
            found.update(block)
    return found.hexdigest()


def read_list(text: str) -> dict[str, str]:
    """Return the digest of each file that a list names; empty where the text is no such list."""
    lines = [_LINE.fullmatch(line) for line in text.splitlines()]
    return {} if None in lines else {line[2]: line[1] for line in lines if line}


def differences(folder: Path) -> list[str]:
    """Return what in a folder isn't as its checksum list says: changed, missing and foreign files.

    A folder without such a list is all foreign.
    """
    try:
        listed = read_list((folder / CHECKSUMS).read_text("utf-8"))
    except (OSError, UnicodeDecodeError):
        listed = {}
    there = {
        path.relative_to(folder).as_posix(): path
        for path in sorted(folder.rglob("*"))
        if path.is_symlink() or not path.is_dir()
    }
    if listed:
        there.pop(CHECKSUMS, None)
    wrong = [
        name
        for name, digest in sorted(listed.items())
        if name not in there or there[name].is_symlink() or digest_of(there[name]) != digest
    ]
    return [*wrong, *(name for name in there if name not in listed)]
