# SPDX-License-Identifier: MIT
"""Files and folders put in place whole or not at all."""

from __future__ import annotations

import os
import secrets
import shutil
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from wiretrack.errors import FileWriteError
from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


def write_file(target: Path, pieces: Iterable[str]) -> None:
    """Write text in UTF-8; at `target` stands either what was there or all of the new text.

    Raises
    ------
    FileWriteError
        If it can't be written.
    """
    with failing_as(str(target)):
        place = Path(os.path.realpath(target))
        if place.exists() and not place.is_file() and not place.is_dir():
            with place.open("wb") as stream:  # a pipe or a device can't be replaced
                _write(stream, pieces)
            return
        draft = place.with_name(f".{place.name}.{secrets.token_hex(4)}.tmp")
        try:
            with draft.open("xb") as stream:
                _write(stream, pieces)
                os.fsync(stream.fileno())
            draft.replace(place)
        except BaseException:
            with suppress(OSError):
                draft.unlink(missing_ok=True)
            raise
        _sync_folder(place.parent)


@contextmanager
def new_folder(target: Path) -> Iterator[Path]:
    """Give a folder to write into; it becomes `target` when the block ends without an error.

    Raises
    ------
    FileWriteError
        If `target` is there already and holds something, or can't be written.
    """
    with failing_as(str(target)):
        place = Path(os.path.realpath(target))
        if place.exists() and (not place.is_dir() or any(place.iterdir())):
            raise FileWriteError(safe(str(target)), "it is there already")
        draft = place.with_name(f".{place.name}.{secrets.token_hex(4)}.tmp")
        draft.mkdir()
        try:
            yield draft
            _sync_folder(draft)
            draft.replace(place)
        except BaseException:
            shutil.rmtree(draft, ignore_errors=True)
            raise
        _sync_folder(place.parent)


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


def _write(stream: BinaryIO, pieces: Iterable[str]) -> None:
    for piece in pieces:
        stream.write(piece.encode("utf-8"))
    stream.flush()


def _sync_folder(folder: Path) -> None:
    """Make a change of names lasting, where the system lets a folder be opened."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
