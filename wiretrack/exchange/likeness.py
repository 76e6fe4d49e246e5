# SPDX-License-Identifier: MIT
"""Which record a row without tag and identifier is of: the one that says all that the row says.

A conductor is also known by what it is: the same function of the same circuits between the same
boxes is one wire, unless its pull, its terminals, its set or its core are others. Wires that look
the same and serve no circuit are only known by their whole content.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import TagError
from wiretrack.exchange.decode import MEASURED
from wiretrack.model import kinds, tags
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point, Subject, devices_in
from wiretrack.model.fields import flat_facts

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from wiretrack.exchange.decode import Draft
    from wiretrack.model.fields import Kind

Row = dict[str, Any]
_TAGGED = (kinds.TAG, kinds.SUBJECT, kinds.COUNTERPART)
_SAME_WIRE = ("circuit", "function", "set", "cable", "core", "from.enclosure", "to.enclosure")
_IF_KNOWN = ("pull", "from.terminal", "to.terminal")
_MANY_ALIKE = "signal"  # a function that many conductors of a circuit have


def plain(kind: Kind, value: Any) -> Any:
    """Return a value of a draft as it is compared: a tag without hyphen, nothing as unknown."""
    if kind in _TAGGED and isinstance(value, str) and not isinstance(value, Subject):
        try:
            return tags.parse_tag(value)
        except TagError:
            return value
    return None if value in ((), []) else value


def state(draft: Draft, key: str) -> Any:
    """Return the state of an end; one that is on a terminal is landed where nothing is said."""
    terminal = draft.get(key.replace(".state", ".terminal"))
    return draft.get(key) or ("landed" if terminal else None)


def wanted(
    of: type, drafts: Iterable[Draft], was: Callable[[str, str], str]
) -> Mapping[str, set[Any]]:
    """Return by which relations to look for the records that these drafts may be of."""
    if of is Conductor:
        boxes = {draft.get("from.enclosure") for draft in drafts} - {None}
        return {"enclosure": {was("enclosures", str(box)) for box in boxes}}
    texts = {str(draft["subject"]) for draft in drafts if "subject" in draft}
    places = {
        Point(was("enclosures", box), code) for text in texts for box, code in devices_in(text)
    }
    return {
        "subject": {plain(kinds.SUBJECT, text) for text in texts},
        "device": places,
        "circuit": {was("circuits", text) for text in texts},
    }


def pairs(of: type, rows: Mapping[int, Draft], there: list[Draft]) -> dict[int, int]:
    """Return which row is of which record, by number and place; each record is of one row."""
    free = dict(enumerate(there))
    found: dict[int, int] = {}
    for alike in (_says_all, _same_wire) if of is Conductor else (_says_all,):
        groups: dict[Any, list[int]] = {}
        for place, old in free.items():
            groups.setdefault(_group(of, old), []).append(place)
        for number, row in rows.items():
            if number in found:
                continue
            for place in groups.get(_group(of, row), ()):
                if place in free and alike(of, row, free[place]):
                    found[number] = place
                    del free[place]
                    break
    return found


def filled(old: Draft, row: Draft) -> Draft:
    """Return a row with what it leaves out as it was."""
    stays = dict(old)
    for side in ("from", "to"):
        if row.get(f"{side}.terminal", old.get(f"{side}.terminal")) != old.get(f"{side}.terminal"):
            stays.pop(f"{side}.state", None)
    return stays | {key: value for key, value in row.items() if value not in ([], ())}


def completed(before: Row, row: Row) -> Row:
    """Return a row with what it leaves out as it was.

    An end that is led to another terminal is landed there, unless the row says otherwise.
    """
    made = before | row
    for group, old in before.items():
        new = row.get(group)
        if not (isinstance(old, dict) and isinstance(new, dict)):
            continue
        stays = dict(old)
        if new.get("enclosure", old.get("enclosure")) != old.get("enclosure"):
            stays.pop("terminal", None)
        if "state" not in new and new.get("terminal", stays.get("terminal")) != old.get("terminal"):
            stays.pop("state", None)
        made[group] = stays | new
    return made


def known_only(row: Row) -> Row:
    """Return a row without its nulls, also those within."""
    inner = {key: known_only(value) for key, value in row.items() if isinstance(value, dict)}
    return {key: value for key, value in (row | inner).items() if value is not None}


def _group(of: type, draft: Draft) -> Any:
    if of is Conductor:
        return draft.get("function"), draft.get("from.enclosure"), draft.get("to.enclosure")
    return draft.get("kind"), plain(kinds.SUBJECT, draft.get("subject"))


def _says_all(of: type, row: Draft, old: Draft) -> bool:
    for fact in flat_facts(of):
        given = plain(fact.kind, row.get(fact.key))
        if given is None or fact.key == MEASURED:
            continue
        there = old.get(fact.key)
        if fact.key.endswith(".state"):
            there = state(old, fact.key)
        if given != plain(fact.kind, there):
            return False
    return True


def _same_wire(of: type, row: Draft, old: Draft) -> bool:
    if not row.get("circuit") or row.get("function") == _MANY_ALIKE or "retired_at" in old:
        return False
    if any(row.get(key) != old.get(key) for key in _SAME_WIRE):
        return False
    both = [(row.get(key), old.get(key)) for key in _IF_KNOWN]
    return all(one == other or None in (one, other) for one, other in both)
