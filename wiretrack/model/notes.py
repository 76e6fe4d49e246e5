# SPDX-License-Identifier: MIT
"""Remarks, and pictures and documents that were attached, of any record of a site."""

from __future__ import annotations

from wiretrack.late import dataclass
from wiretrack.model import kinds as k
from wiretrack.model.fields import fact, need
from wiretrack.model.tags import format_tag

SITE = "site"  # what a note of the site as a whole is of: the kind, the code, and the record
_OF = "Its tag or code; BOX/CODE of a device or terminal; site of the site itself."


class _Of:
    what: str
    of: str

    @property
    def called(self) -> str:
        """What people call the record that it is of."""
        return format_tag(self.of) if self.what == "conductor" else self.of


@dataclass(frozen=True, kw_only=True)
class Note(_Of):
    """A remark; never changed or deleted. A later one can take it, or an attachment, back."""

    id: str = need("id", k.ID, "Stays unique when two registries meet.")
    what: str = need("what", k.RECORD_KIND, "What sort of record it is of.")
    of: str = need("of", k.RECORD, _OF)
    at: str = need("at", k.TIME, "When it was written.")
    by: str | None = fact("by", k.NAME, "Who wrote it.")
    text: str | None = fact("text", k.NOTE, "What it says.")
    takes_back: str | None = fact("takes_back", k.ID, "The note or attachment that it takes back.")


@dataclass(frozen=True, kw_only=True)
class Attachment(_Of):
    """A picture or document that was attached."""

    id: str = need("id", k.ID, "Stays unique when two registries meet.")
    what: str = need("what", k.RECORD_KIND, "What sort of record it is of.")
    of: str = need("of", k.RECORD, _OF)
    at: str = need("at", k.TIME, "When it was attached.")
    by: str | None = fact("by", k.NAME, "Who attached it.")
    name: str = need("name", k.NAME, "What it is called.")
    type: str = need("type", k.FILE_TYPE, "What it is.")
    sha256: str = need("sha256", k.DIGEST, "The SHA-256 of its content.")


@dataclass(frozen=True)
class Noted:
    """What is noted of a record, and attached to it, and was not taken back; oldest first."""

    notes: tuple[Note, ...] = ()
    attachments: tuple[Attachment, ...] = ()
