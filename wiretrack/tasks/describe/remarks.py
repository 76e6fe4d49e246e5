# SPDX-License-Identifier: MIT
"""Notes and attachments of any record: kept, taken back, given back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, FieldError, Hint, PictureError
from wiretrack.exchange.places import harmless, why_refused
from wiretrack.late import dataclass
from wiretrack.model.entity import Attachment
from wiretrack.pictures import MOST_BYTES, to_keep
from wiretrack.store import notes
from wiretrack.store.searching import ANY, Named, resolve

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry

LONGEST = 2000


@dataclass(frozen=True)
class Kept:
    """The id of a note or attachment, and of the change that it was."""

    id: str
    change: str


def add_note(
    registry: Registry,
    what: str | Named,
    text: str,
    *,
    instead: str | None = None,
    who: str | None = None,
) -> Kept:
    """Keep a remark with any record, perhaps `instead` of an earlier one (the start of its id)."""
    of, plain = _named(registry, what), checked(text)
    takes_back = notes.id_of(registry, instead) if instead else None
    made = notes.add_note(registry, of, plain, takes_back=takes_back, who=who)
    return Kept(made, registry.commit.change)


def _named(registry: Registry, what: str | Named) -> Named:
    return resolve(registry, what, ANY) if isinstance(what, str) else what


def checked(text: str) -> str:
    """Return the text of a note as it is kept; `BadInputError` where it can't be."""
    plain = text.replace("\r\n", "\n").strip()
    if not plain:
        raise FieldError("text", "The note is empty.")
    if len(plain) > LONGEST:
        raise FieldError("text", f"The note has {len(plain)} characters. It may have {LONGEST}.")
    why = why_refused(plain, line_breaks=True)
    if why:
        raise FieldError("text", f"The note '{harmless(plain)}' is refused: {why}.")
    return plain


def take_back(registry: Registry, noted: str, *, who: str | None = None) -> Kept:
    """Take back a note or an attachment, by the start of its id: kept, and shown no longer."""
    made = notes.take_back(registry, notes.id_of(registry, noted), who=who)
    return Kept(made, registry.commit.change)


def attach_file(registry: Registry, what: str, file: Path, *, who: str | None = None) -> Kept:
    """Keep a picture or a PDF with any record."""
    try:
        with file.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise PictureError(str(file), f"can't be read: {error.strerror}") from None
    return attach(registry, what, file.name, data, who=who)


def attach(
    registry: Registry, what: str | Named, name: str, data: bytes, *, who: str | None = None
) -> Kept:
    """Keep the content of a picture or a PDF, as `attach_file` does."""
    of = _named(registry, what)
    file = to_keep(name, data)
    made = notes.add_attachment(registry, of, file.name, (file.type, file.content), who=who)
    return Kept(made, registry.commit.change)


def attached(registry: Registry, start: str) -> tuple[Attachment, bytes]:
    """Return an attachment that stands, by the start of its id, with its content."""
    found = notes.attachment(registry, notes.id_of(registry, start, Attachment))
    return found, notes.content(registry, found.sha256)


def give_back(registry: Registry, start: str, target: Path) -> Attachment:
    """Write the content of an attachment to the new file `target`, byte for byte as kept."""
    from wiretrack.files import file_in_place

    if target.exists() or target.is_symlink():
        raise BadInputError(f"{target} exists already.", Hint("Name another file with {out}."))
    found, content = attached(registry, start)
    with file_in_place(target) as stream:
        stream.write(content)
    return found
