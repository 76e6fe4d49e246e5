# SPDX-License-Identifier: MIT
"""Finding records by words, and telling what a code or a tag names."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.colours import codes_of
from wiretrack.errors import NotFoundError, TagError
from wiretrack.late import dataclass
from wiretrack.model.entity import SITE
from wiretrack.model.source import TABLE_OF
from wiretrack.model.tags import (
    Tag,
    box_in,
    format_tag,
    is_plain_tag,
    last_part,
    looks_like_tag,
    normalise,
    parse_tag,
    read_aloud,
    single_slips,
)
from wiretrack.model.words import SUBJECTS
from wiretrack.plain import near
from wiretrack.store.places import PLACES, place_called
from wiretrack.store.schema import INDEXED

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlite_utils import Database

    from wiretrack.model.entity import Point
    from wiretrack.store.store import Registry

CODED = {what: TABLE_OF[what] for what in ("circuit", "enclosure", "raceway", "pull", "instrument")}
ANY = SUBJECTS  # all that has a name
FIND_LIMIT = 50
RANKED = 500


@dataclass(frozen=True)
class Named:
    """What a word names: its kind, and its code as the registry writes it.

    Of a device or a terminal the code is ``BOX/CODE``, and `point` its place.
    """

    what: str
    code: str
    point: Point | None = None


@dataclass(frozen=True)
class Hit:
    """One thing found: what it is, its code (a tag for conductors and readings), its text."""

    what: str
    code: str
    text: str

    @property
    def beside(self) -> str:
        """The text without the code that it begins with, which stands beside it."""
        return beside(self.code, self.text)


def beside(code: str, text: str) -> str:
    """Return the text of a hit without its code in the ways it begins with.

    >>> beside("BRN-001C", "BRN001C BRN-001C PUMP well pump")
    'PUMP well pump'
    """
    words, written = text.split(), f"{code}"
    own = [word in (written, written.replace("-", "")) for word in words]
    return " ".join(words[own.index(False) :]) if False in own else text


def resolve(registry: Registry, word: str, kinds: tuple[str, ...] | None = None) -> Named:
    """Return what `word` names: a tag's conductor, or a circuit, enclosure, raceway or pull.

    Codes are tried as written, then without regard to case; a code wins over a tag. The whole text
    of a label's symbol names what the label is of. Devices and terminals are looked for last, as
    `place_called` reads them; ``site`` is the site itself. `ANY` has all kinds. `TagError` if it
    has the form of a tag whose check character is wrong; a known tag that a single slip explains is
    named; `NotFoundError` if nothing of the wanted `kinds` is called so; `AmbiguousError` if
    several devices or terminals are.
    """
    wanted = kinds or ("conductor", "circuit", "enclosure", "raceway", "pull")
    for condition in ("code = ?", "code = ? COLLATE NOCASE"):
        for what in wanted:
            if what in CODED:
                row = registry.row(f"SELECT code FROM {CODED[what]} WHERE {condition}", [word])
                if row:
                    return Named(what, row["code"])
    if "site" in wanted and word.lower() == SITE:
        return Named(SITE, SITE)
    box = box_in(word)
    if box is not None and "enclosure" in wanted:
        return resolve(registry, box, ("enclosure",))
    places = tuple(kind for kind in wanted if kind in PLACES)
    wrong_tag: TagError | None = None
    if "conductor" in wanted and looks_like_tag(word):
        try:
            return Named("conductor", tag_of(registry, word))
        except TagError as error:
            wrong_tag = error if error.meant or any(map(str.isdigit, word)) else None
            if wrong_tag and not places:
                raise
    close = _close_codes(registry, word, wanted)
    try:
        if places:
            place = place_called(registry, word, places)
            return Named(place.what, place.code, place.point)
    except NotFoundError as error:
        close += error.near
    if wrong_tag:
        raise wrong_tag
    raise NotFoundError(" or ".join(() if wanted == ANY else kinds or ()), word, close[:3])


def is_called(registry: Registry, what: str, code: str) -> bool:
    """Return whether a record of that kind has this code, in whatever case."""
    sql = f"SELECT 1 FROM {CODED[what]} WHERE code = ? COLLATE NOCASE"
    return registry.row(sql, [code]) is not None


def tag_of(registry: Registry, text: str) -> str:
    """Return the tag that `text` writes, if a conductor carries it.

    Else the known tags a single slip away are named. Where all that is wrong is a check character
    that looks or sounds like the right one, and no other known tag is as near, it is read as that,
    and `registry.read_as` says so.
    """
    try:
        tag = parse_tag(text)
    except TagError as error:
        meant, aloud = _known_slips(registry, text), read_aloud(text)
        if aloud and meant == [str(aloud)]:
            registry.read_as = (text.strip(), meant[0])
            return aloud
        raise TagError(text, error.why, meant) from None
    if registry.row("SELECT 1 FROM conductors WHERE tag = ?", [tag]):
        return tag
    also = registry.row("SELECT tag FROM conductors WHERE id = ?", [leads_to(registry, tag)])
    if also:
        return Tag(also["tag"])
    raise NotFoundError("conductor", format_tag(tag), _known_slips(registry, text))


def leads_to(registry: Registry, tag: str) -> str | None:
    """Return the id of the conductor that a tag leads to beside the one that it has now."""
    if not registry.row("SELECT 1 FROM same_records LIMIT 1"):
        return None
    from wiretrack.store.same import Same

    return Same.of(registry.connection).leads_to(tag)


def last_tag(registry: Registry) -> int:
    """Return the number of the conductor that came last."""
    row = registry.row("SELECT coalesce(max(nr), 0) AS nr FROM conductors")
    return int(row["nr"]) if row else 0


def tags_after(registry: Registry, number: int) -> tuple[str, ...]:
    """Return the tags of the conductors that came after the one of this number, as people write."""
    rows = registry.rows("SELECT tag FROM conductors WHERE nr > ? ORDER BY nr", [number])
    return tuple(format_tag(row["tag"]) for row in rows)


def last_numbers(db: Database) -> dict[str, int]:
    """Return the number of the last row of each table that is searched."""
    return {
        table: db.execute(f"SELECT coalesce(max(nr), 0) FROM {table}").fetchone()[0]
        for table in INDEXED
    }


def index_after(db: Database, numbers: Mapping[str, int]) -> None:
    """Index the rows that came after these numbers, a table at a time."""
    for kind, table in enumerate(INDEXED):
        db.execute(
            "INSERT INTO search (rowid, text) SELECT 8 * nr + kind, text FROM search_texts"
            f" WHERE kind = {kind} AND nr > ?",
            [numbers[table]],
        )


def find(registry: Registry, text: str, limit: int = FIND_LIMIT) -> list[Hit]:
    """Return what carries all the words of `text` (or words that begin so), best first.

    A record whose code or tag is the text comes first; readings come after what they are of, and
    retired conductors after those in use; then the more words stand whole in a record, and
    the shorter it is, the sooner it comes. Of more than `RANKED` records the first ones stored are
    ranked, so that a word that everything carries costs no more than another. Of the whole text of
    a label's symbol, what the label is of is looked for.
    """
    text = box_in(text) or last_part(text) or text
    plain = text.replace("\x00", " ")
    words = [word.replace('"', '""') for word in plain.split() if any(map(str.isalnum, word))]
    if not words:
        return []
    begun = _query(f'"{word}"*' for word in words)
    letters_whole = _query(f'"{word}"' + "*" * (len(word) > 1) for word in words)
    rows = _carrying(registry, letters_whole, text) or _carrying(registry, begun, text)
    names, wanted = {_tag_in(text), text.strip().upper()}, _tokens(plain)

    def rank(row: dict[str, Any]) -> tuple[object, ...]:
        exact = row["code"].upper() in names
        whole = len(wanted & _tokens(row["text"]))
        retired = row["retired_at"] is not None
        return not exact, row["what"] == "reading", retired, -whole, len(row["text"]), row["doc"]

    best: dict[object, dict[str, Any]] = {}
    for row in sorted((row for row in rows if _still_carries(row, wanted, names)), key=rank):
        own = row["what"] == "reading"  # a note leads to what it is of: each of those once
        best.setdefault(row["doc"] if own else (row["what"], row["code"]), row)
    return [_hit(row) for row in [*best.values()][:limit]]


def _query(words: Iterable[str]) -> str:
    """Return an FTS5 query of all words, each as it is or as the code of the colour it names."""
    ways = ([word, *(f'"{code}"*' for code in codes_of(word.strip('*"')))] for word in words)
    return " AND ".join(f"({' OR '.join(way)})" for way in ways)


def _hit(row: Mapping[str, Any]) -> Hit:
    """Return what is found; a reading may be of a device or a circuit, which has no tag."""
    what, code = row["what"], row["code"]
    is_tagged = what == "conductor" or (what == "reading" and is_plain_tag(code))
    return Hit(what, Tag(code) if is_tagged else code, " ".join(row["text"].split()))


def _carrying(registry: Registry, query: str, text: str) -> list[dict[str, Any]]:
    """Return up to `RANKED` records that an FTS5 query finds, and those that are called `text`."""
    called = " UNION ALL ".join(
        f"SELECT id FROM {table} WHERE code = :text COLLATE NOCASE" for table in CODED.values()
    )
    indexed = " UNION ALL ".join(
        f"SELECT id FROM {table} WHERE nr IN (SELECT doc / 8 FROM found WHERE doc % 8 = {kind})"
        for kind, table in enumerate(INDEXED)
    )
    return registry.rows(
        "WITH found (doc) AS MATERIALIZED"
        " (SELECT rowid FROM search WHERE search MATCH :query LIMIT :most)"
        " SELECT 8 * d.nr + d.kind AS doc, d.what, d.code, d.text, c.retired_at"
        " FROM search_texts AS d LEFT JOIN conductors AS c ON c.id = d.record WHERE d.record IN"
        f" ({indexed} UNION ALL SELECT id FROM conductors WHERE tag = :tag UNION ALL {called})",
        {"query": query, "text": text.strip(), "tag": _tag_in(text), "most": RANKED},
    )


def _tag_in(text: str) -> str:
    """Return the tag that a text would be, as the registry holds it."""
    aloud = read_aloud(text)
    return aloud.plain if aloud else normalise(text)


def _still_carries(row: dict[str, Any], wanted: set[str], names: set[str]) -> bool:
    """Return whether a record is called so, or has words that begin with each of those wanted.

    The index keeps the words that a record had before it was changed.
    """
    if row["code"].upper() in names:
        return True
    carried = _tokens(row["text"])
    ways = ((begun, *map(str.lower, codes_of(begun))) for begun in wanted)
    return all(any(word.startswith(way) for word in carried) for way in ways)


def _tokens(text: str) -> set[str]:
    """Return the words of `text`, as the search folds them (unicode61 without diacritics)."""
    folded = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(c for c in folded if not unicodedata.combining(c))
    return set(re.findall(r"[^\W_]+", plain))


def _known_slips(registry: Registry, text: str) -> list[str]:
    if not looks_like_tag(text):
        return []
    slips = single_slips(text)
    holes = ", ".join("?" * len(slips))
    rows = registry.rows(f"SELECT tag FROM conductors WHERE tag IN ({holes})", slips)
    return [format_tag(row["tag"]) for row in rows][:3]


def _close_codes(registry: Registry, word: str, kinds: tuple[str, ...]) -> list[str]:
    codes = [
        row["code"]
        for what in kinds
        if what in CODED
        for row in registry.rows(f"SELECT code FROM {CODED[what]} LIMIT 20000")
    ]
    return near(word, codes)
