# SPDX-License-Identifier: MIT
"""Notes and attachments of a site file: what they are of is there, contents are what they say."""

from __future__ import annotations

import binascii
from base64 import b64decode
from hashlib import sha256
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, TagError
from wiretrack.exchange.places import shown
from wiretrack.exchange.rest import REST
from wiretrack.model.entity import devices_in
from wiretrack.model.parts import SITE
from wiretrack.model.tags import parse_tag
from wiretrack.pictures import check_kept

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from wiretrack.exchange.decode import Draft, Drafts
    from wiretrack.exchange.known import Known
    from wiretrack.exchange.places import Path
    from wiretrack.exchange.raw import RawSite

TABLES = ("notes", "attachments")
NAMES = tuple(REST[table].name for table in TABLES)


def check_remarks(drafts: Drafts, known: Known, raw: RawSite) -> None:
    """Add a fault for each that is of nothing, says nothing, or brings what it doesn't say."""
    ids = {draft.get("id") for table in TABLES for draft in drafts.get(table, ())}
    if not ids:
        return
    has = _finder(drafts, known)
    for path, draft in _rows(drafts):
        what, of = draft.get("what"), draft.get("of")
        if what and of and f"{what}s" not in raw.lost:
            if what == "conductor":
                draft["of"] = of = _tag(of)
            if not has(what, of):
                message = f"No {what} is called {shown(of)} in the file or the registry."
                raw.faults.add((*path, "of"), f"{message} Add it, or correct this.")
        back = draft.get("takes_back")
        if back and not (back in ids or any(known.has(f"{n} id", back) for n in NAMES)):
            message = f"No note or attachment is called {shown(back)}."
            raw.faults.add((*path, "takes_back"), f"{message} Name one that is there.")
        if path[0] == "notes" and not (back or draft.get("text")):
            raw.faults.add(path, "The note says nothing. Give its text, or what it takes back.")
    _check_contents(drafts, known, raw)


def _rows(drafts: Drafts) -> Iterator[tuple[Path, Draft]]:
    for table in TABLES:
        for number, draft in enumerate(drafts.get(table, ())):
            yield (table, number), draft


def _tag(text: str) -> str:
    try:
        return parse_tag(text)
    except TagError:
        return text


def _finder(drafts: Drafts, known: Known) -> Callable[[str, str], bool]:
    """Return what says whether the file or the registry has a record of a kind and a name."""
    here = {
        (table[:-1], f"{draft['enclosure']}/{draft['code']}" if "enclosure" in draft else
         draft.get("code", draft.get("tag")))
        for table in ("enclosures", "circuits", "raceways", "pulls", "instruments", "conductors",
                      "devices", "terminals")
        for draft in drafts[table]
        if table not in ("devices", "terminals") or {"enclosure", "code"} <= draft.keys()
    }  # fmt: skip
    here |= {
        ("terminal", f"{draft[f'{side}.enclosure']}/{draft[f'{side}.terminal']}")
        for draft in drafts["conductors"]
        for side in ("from", "to")
        if {f"{side}.enclosure", f"{side}.terminal"} <= draft.keys()
    }
    here |= {
        ("terminal", f"{draft['enclosure']}/{code}")
        for draft in drafts["devices"]
        for pole in draft.get("poles", ())
        for code in pole
        if "enclosure" in draft
    }

    def has(what: str, of: str) -> bool:
        if (what, of) in here or what == SITE:
            return what != SITE or of == SITE
        inside = what in ("device", "terminal")
        return any(known.has(what, key) for key in (devices_in(of) if inside else [of]))

    return has


def _check_contents(drafts: Drafts, known: Known, raw: RawSite) -> None:
    brought = set()
    for number, draft in enumerate(drafts.get("attachments", ())):
        path: Path = ("attachments", number)
        digest = draft.get("sha256")
        if digest is None or "type" not in draft:
            continue
        if "content" in draft:
            try:
                content = b64decode(draft["content"], validate=True)
                if sha256(content).hexdigest() != digest:
                    raise BadInputError("It is not what its SHA-256 says.")
                check_kept(draft["type"], content)
            except (BadInputError, binascii.Error) as error:
                raw.faults.add((*path, "content"), f"The content is refused: {error}")
            brought.add(digest)
        elif digest not in brought and not known.has("file", digest):
            message = "Its content is neither in the file nor in the registry."
            raw.faults.add((*path, "content"), f"{message} Give it, in base64, with the first one.")
