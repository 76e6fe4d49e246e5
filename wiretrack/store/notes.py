# SPDX-License-Identifier: MIT
"""Notes and attachments: the logs of both, and the contents that the log of changes keeps."""

from __future__ import annotations

import json
import zlib
from base64 import b64decode, b64encode
from collections import defaultdict
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, DamagedRegistryError, Hint, NotFoundError
from wiretrack.model.entity import Attachment, Note, Noted
from wiretrack.model.tags import Tag
from wiretrack.store.schema import LISTED
from wiretrack.store.writing import insert, new_id

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping
    from sqlite3 import Connection

    from sqlite_utils import Database

    from wiretrack.store.searching import Named
    from wiretrack.store.store import Registry

_LISTS: dict[type, str] = {Note: "note", Attachment: "attachment"}
LEAST_OF_AN_ID = 4


def noted(registry: Registry, records: Collection[str]) -> dict[str, Noted]:
    """Return what stands of records, by their ids."""
    found: defaultdict[str, dict[type, list[Any]]] = defaultdict(lambda: defaultdict(list))
    for of, name in _LISTS.items():
        columns = [f"l.{each.name}" for each in fields(of) if each.name != "takes_back"]
        for row in registry.rows(
            f"SELECT t.record, {', '.join(columns)} FROM {name}s AS t JOIN {name}_list AS l"
            f" ON l.id = t.id WHERE t.record IN {LISTED} ORDER BY t.at, t.nr",
            [json.dumps(list(records))],
        ):
            row["of"] = Tag(row["of"]) if row["what"] == "conductor" else row["of"]
            found[row.pop("record")][of].append(of(**row))
    return {
        record: Noted(tuple(both[Note]), tuple(both[Attachment])) for record, both in found.items()
    }


def record_id(db: Database | Connection, what: str, code: str) -> str:
    """Return the id that notes of a record are kept under; `code` is as the registry writes it."""
    sql = "SELECT id FROM named WHERE what = ? AND code = ?"
    found = db.execute(sql, [what, code]).fetchone()
    if found is None:
        raise NotFoundError(what, code)
    return str(found[0])


def add_note(
    registry: Registry, of: Named, text: str, *, takes_back: str | None = None,
    who: str | None = None,
) -> str:  # fmt: skip
    """Keep a remark on a record, which may take an earlier one's place; return its id."""
    with registry.write(who) as db:
        own = {"what": of.what, "record": record_id(db, of.what, of.code), "text": text}
        return _add(db, "notes", own | {"takes_back": takes_back})


def take_back(registry: Registry, noted: str, *, who: str | None = None) -> str:
    """Note that a note or an attachment, by its id, holds no longer; return the new note's id."""
    with registry.write(who) as db:
        sql = "SELECT what, record FROM notes WHERE id = ? UNION SELECT what, record"
        what, record = db.execute(f"{sql} FROM attachments WHERE id = ?", [noted] * 2).fetchone()
        return _add(db, "notes", {"what": what, "record": record, "takes_back": noted})


def add_attachment(
    registry: Registry, of: Named, name: str, kept: tuple[str, bytes], *, who: str | None = None
) -> str:
    """Keep a file, by its type and content, with a record; return the attachment's id."""
    type_, content = kept
    with registry.write(who) as db:
        own = {"what": of.what, "record": record_id(db, of.what, of.code), "name": name}
        digest = registry.commit.keep_once(content)
        return _add(db, "attachments", own | {"type": type_, "sha256": digest})


def _add(db: Database, table: str, row: dict[str, Any]) -> str:
    at, by = db.execute("SELECT at, who FROM writing").fetchone()
    insert(db, table, [{"id": (made := new_id()), **row, "at": at, "by": by}])
    return made


def id_of(registry: Registry, start: str, *kinds: type) -> str:
    """Return the id, which begins so, of a note or attachment that stands."""
    wanted = kinds or tuple(_LISTS)
    noun = " or ".join(_LISTS[of] for of in wanted)
    if len(start) < LEAST_OF_AN_ID:
        raise BadInputError(f"'{start}' is too short for the id of a {noun}: type 4 characters.")
    lists = " UNION ALL ".join(f"SELECT id FROM {_LISTS[of]}_list" for of in wanted)
    sql = f"SELECT id FROM ({lists}) WHERE substr(id, 1, :n) = :start"
    found = registry.rows(sql, {"n": len(start), "start": start.lower()})
    if not found:
        raise NotFoundError(noun, start)
    if len(found) > 1:
        ids = ", ".join(row["id"][: len(start) + 4] for row in found[:4])
        raise BadInputError(f"'{start}' begins the id of {len(found)}: {ids}. Type more of it.")
    return str(found[0]["id"])


def attachment(registry: Registry, attached: str) -> Attachment:
    """Return the attachment of an id, which stands."""
    (row,) = registry.rows("SELECT * FROM attachment_list WHERE id = ?", [attached])
    return Attachment(**row)


def files(registry: Registry) -> list[Attachment]:
    """Return one attachment of each file that stands."""
    rows = registry.rows("SELECT * FROM attachment_list GROUP BY sha256 ORDER BY sha256")
    return [Attachment(**row) for row in rows]


def with_contents(
    registry: Registry, rows: Iterable[Mapping[str, Any]]
) -> Iterator[Mapping[str, Any]]:
    """Yield rows of attachments as a site file has them: the first of each file with content."""
    told = set()
    for row in rows:
        if row["sha256"] in told:
            yield row
            continue
        told.add(row["sha256"])
        yield {**row, "content": b64encode(content(registry, row["sha256"])).decode()}


def keep_contents(registry: Registry, rows: Iterable[Mapping[str, Any]]) -> bool:
    """Keep what rows of attachments bring along, in the write under way; return whether any do."""
    brought = [row["content"] for row in rows if "content" in row]
    for text in brought:
        registry.commit.keep_once(b64decode(text))
    return bool(brought)


def content(registry: Registry, digest: str) -> bytes:
    """Return the content of a file, by its SHA-256, as the log keeps it."""
    from hashlib import sha256

    unpacking, found, seen = zlib.decompressobj(), b"", sha256()
    rows = registry.each(
        "SELECT l.body FROM files AS f JOIN log AS l ON l.writer = f.writer"
        " AND l.number >= f.number WHERE f.sha256 = ? ORDER BY l.number",
        [digest],
    )
    try:
        for row in rows:
            piece = unpacking.decompress((row["body"] or b"").partition(b"\n")[2])
            found += piece
            seen.update(piece)
            if unpacking.eof or not row["body"]:
                break
    except zlib.error:
        pass
    if not unpacking.eof or seen.hexdigest() != digest:
        why = f"no longer holds the content {digest[:12]} that was attached"
        raise DamagedRegistryError(str(registry.path), why, Hint(job="verify"))
    return found
