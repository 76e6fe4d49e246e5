# SPDX-License-Identifier: MIT
"""Files and folders put in place whole or not at all; never over what somebody else wrote."""

from __future__ import annotations

import os
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from wiretrack.errors import FileWriteError, Hint, UnusableError
from wiretrack.late import pattern
from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

# By what a file tells that this program wrote it, in its first bytes; a PDF has it farther down.
_MARKS = (
    b'"format": "wiretrack-',
    b'data-by="wiretrack"',
    b'<meta name="generator" content="wiretrack">',
    b"tEXtSoftware\0wiretrack",
)
_PDF_MARK, _BOOK_MARK = b"/Creator (wiretrack)", b"<dc:creator>wiretrack</dc:creator>"
_HEAD = 4096
_REGISTRY = b"SQLite format 3\0"
_replaces: ContextVar[bool] = ContextVar("replaces", default=False)


@contextmanager
def replacing(yes: bool = True) -> Iterator[None]:
    """Let files be replaced in this block that this program didn't write."""
    before = _replaces.set(yes)
    try:
        yield
    finally:
        _replaces.reset(before)


def is_ours(file: Path) -> bool:
    """Return whether this program wrote a file; an empty one is nobody's."""
    with file.open("rb") as stream:
        head = stream.read(_HEAD)
        if head[:5] == b"%PDF-":
            return _PDF_MARK in head + stream.read()
    if head[:4] == b"PK\3\4":
        return _is_our_book(file)
    return not head or any(mark in head for mark in _MARKS)


def _is_our_book(file: Path) -> bool:
    from zipfile import BadZipFile, ZipFile

    try:
        with ZipFile(file) as book:
            return _BOOK_MARK in book.read("docProps/core.xml")
    except (BadZipFile, KeyError, OSError):
        return False


def refuse_others(file: Path) -> None:
    """Refuse to replace a file that this program didn't write; a registry at all times."""
    if not file.is_file():
        return
    with file.open("rb") as stream:
        is_registry = stream.read(len(_REGISTRY)) == _REGISTRY
    if is_registry:
        raise UnusableError(safe(str(file)), "is a registry", "Name another file.")
    if not (_replaces.get() or is_ours(file)):
        hint = Hint("Name another file, or add {force} to replace it.")
        raise UnusableError(safe(str(file)), "is there already, not written by wiretrack", hint)


def write_file(target: Path, pieces: Iterable[str]) -> None:
    """Write text in UTF-8; at `target` stands either what was there or all of the new text."""
    with file_in_place(target) as stream:
        for piece in pieces:
            stream.write(piece.encode("utf-8"))


def found_above(name: str) -> Path:
    """Return the file of that name in this folder, else in the nearest folder above that has one.

    Above, one of somebody else's is passed over: what lies there isn't meant for this folder. If
    there is none, it is the name itself.
    """
    here = Path.cwd()
    if Path(name).exists():
        return Path(name)
    for level, folder in enumerate(here.parents, 1):
        file = folder / name
        with suppress(OSError):
            if file.is_file() and (os.name == "nt" or file.stat().st_uid == os.geteuid()):
                return Path(*[".."] * level, name)
    return Path(name)


@contextmanager
def file_in_place(target: Path, *, own: bool = False) -> Iterator[BinaryIO]:
    """Give a stream to write; its file becomes `target` when the block ends without an error.

    One in the program's `own` folder is replaced whatever it holds. `UnusableError` if a file
    stands there that this program didn't write (`refuse_others`); `FileWriteError` if it can't be
    written; nothing is left behind, and what was there is untouched.
    """
    with failing_as(str(target)):
        place = Path(os.path.realpath(target))
        if place.exists() and not place.is_file() and not place.is_dir():
            with place.open("wb") as stream:  # a pipe or a device can't be replaced
                yield stream
            return
        if not own:  # the program's own folder is written with each change, and not looked through
            refuse_others(place)
            remove_dead_drafts(place)
        draft = _draft_of(place)
        try:
            with draft.open("xb") as stream:
                yield stream
                stream.flush()
                os.fsync(stream.fileno())
            draft.replace(place)
        except BaseException:
            remove_leftovers(draft)
            raise
        _sync_folder(place.parent)


@contextmanager
def new_folder(target: Path, *, replace: bool = False) -> Iterator[Path]:
    """Give a folder to write into; it becomes `target` when the block ends without an error.

    With `replace`, a folder that stands there goes once the new one is in its place.
    `FileWriteError` if `target` is there already and holds something, or can't be written.
    """
    with failing_as(str(target)):
        place = Path(os.path.realpath(target))
        empty = not place.exists() or (place.is_dir() and not any(place.iterdir()))
        if not (empty or replace):
            raise FileWriteError(safe(str(target)), "it is there already")
        remove_dead_drafts(place)
        draft = _draft_of(place)
        draft.mkdir()
        try:
            yield draft
            _sync_folder(draft)
            _put(draft, place, over=not empty)
        except BaseException:
            _remove_folder(draft)
            raise
        _sync_folder(place.parent)


def _put(draft: Path, place: Path, *, over: bool) -> None:
    """Give a finished draft its name; an older folder goes only when the new one is in place."""
    if not over:
        draft.replace(place)
        return
    aside = _draft_of(place)
    place.replace(aside)
    try:
        draft.replace(place)
    except OSError:
        with suppress(OSError):
            aside.replace(place)
        raise
    _remove_folder(aside)


def _remove_folder(folder: Path) -> None:
    from shutil import rmtree

    rmtree(folder, ignore_errors=True)


@contextmanager
def failing_as(name: str) -> Iterator[None]:
    """Turn what goes wrong while writing into an error for people; a closed pipe stays one."""
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        raise FileWriteError(safe(name), error.strerror or str(error)) from error
    except UnicodeEncodeError as error:
        why = f"a text holds half a surrogate pair (U+{ord(error.object[error.start]):04X})"
        raise FileWriteError(safe(name), why) from error


def name_new_file(draft: Path, target: Path) -> None:
    """Give a finished file its name; what has that name already stays.

    `FileExistsError` if there is something of that name; `OSError` if the medium refuses.
    """
    try:
        os.link(draft, target)
    except FileExistsError:
        raise
    except OSError:  # FAT and some network file systems know no second name for a file
        if target.exists() or target.is_symlink():
            raise FileExistsError(target) from None
        draft.rename(target)


def remove_leftovers(*files: Path) -> None:
    """Remove what an attempt may have left behind, as far as the medium allows."""
    for file in files:
        with suppress(OSError):
            file.unlink()


def _draft_of(place: Path) -> Path:
    """Return the name beside `place` under which it is written; no longer than names may be."""
    return place.with_name(f".{place.name[:100]}.{os.getpid()}.{os.urandom(4).hex()}.tmp")


def new_file_draft(place: Path) -> Path:
    """Return the name beside `place` under which a new file is made, which gets its name later."""
    remove_dead_drafts(place)
    return place.with_name(f".{place.name}.{os.getpid()}.new")


_DRAFT = pattern(r"\.(\d+)\.(?:new(?:-wal|-shm|-journal)?|[0-9a-f]{8}\.tmp)")


def remove_dead_drafts(place: Path) -> None:
    """Remove the drafts of `place` whose processes are gone, as far as the medium allows."""
    begun = f".{place.name[:100]}"
    with suppress(OSError):
        for file in place.parent.iterdir():
            if not file.name.startswith(begun):
                continue
            rest = file.name.removeprefix(f".{place.name}").removeprefix(begun)
            whose = _DRAFT.fullmatch(rest)
            if whose and not _is_running(int(whose[1])):
                if file.is_dir() and not file.is_symlink():
                    _remove_folder(file)
                else:
                    remove_leftovers(file)


def _is_running(process: int) -> bool:
    if os.name == "nt":  # there a signal would end it
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def _sync_folder(folder: Path) -> None:
    """Make a change of names lasting, where the system lets a folder be opened."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


_PACKAGE = Path(__file__).resolve().parent


def shipped(folder: str) -> Path:
    """Return the shipped folder ``schemas`` or ``demo_db``."""
    for place in (_PACKAGE / "_shipped" / folder, _PACKAGE.parent / folder):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"wiretrack was installed without its folder '{folder}'")
