# SPDX-License-Identifier: MIT
"""Codes, identifiers, tags and remarks: each is unique, and what each refers to is there."""

from __future__ import annotations

import binascii
from base64 import b64decode
from hashlib import sha256
from itertools import islice
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, TagError
from wiretrack.exchange.places import articled, shown
from wiretrack.exchange.rest import REST
from wiretrack.model import kinds, tags
from wiretrack.model.entity import SITE, Subject, devices_in
from wiretrack.model.fields import flat_facts
from wiretrack.model.source import TABLES
from wiretrack.model.tags import parse_tag
from wiretrack.pictures import check_kept
from wiretrack.plain import near
from wiretrack.readings import BY_NAME

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from wiretrack.exchange.decode import Draft, Drafts
    from wiretrack.exchange.known import Known
    from wiretrack.exchange.places import Faults, Path
    from wiretrack.exchange.raw import RawSite

NOUNS = {table: of.__name__.lower() for of, table in TABLES.items()} | {
    name: row.noun for name, row in REST.items()
}
_CODED = ("enclosures", "raceways", "circuits", "pulls", "instruments")
_INSIDE = ("terminals", "devices")
_FACTS = [(table, fact) for of, table in TABLES.items() for fact in flat_facts(of)]
_FACTS += [(name, fact) for name, row in REST.items() for fact in row.facts]
_REFERENCES = [(table, fact.key, fact.refers) for table, fact in _FACTS if fact.refers in _CODED]
Key = str | tuple[str, str]
_COMPARED = 20_000
_EXPLAINED = 200


class CodeCheck:
    """The codes of one file, over those that the registry holds."""

    def __init__(self, drafts: Drafts, known: Known, raw: RawSite) -> None:
        self.drafts, self.known = drafts, known
        self.faults, self._lost = raw.faults, raw.lost
        self._codes = {
            table: {draft["code"] for draft in drafts[table] if "code" in draft} for table in _CODED
        }
        self._found: dict[tuple[str, str], bool] = {}
        self._hints: dict[tuple[str, str], str] = {}

    def check(self) -> None:
        """Add a fault for every double and for every code that leads nowhere."""
        self._check_unique_codes()
        self._check_unique_ids()
        for table, key, target in _REFERENCES:
            for number, draft in enumerate(self.drafts.get(table, ())):
                value = draft.get(key, ())
                path: Path = (table, number, *key.split("."))
                if isinstance(value, str):
                    if not self.refer(path, target, value):
                        del draft[key]  # what is built on it can't be judged
                elif len(value) == 1 and (table, key) == ("conductors", "circuit"):
                    self.refer(path, target, value[0])
                else:
                    for place, code in enumerate(value):
                        self.refer((*path, place), target, code)
        for number, draft in enumerate(self.drafts["pulls"]):
            self._check_far_ends(number, draft)
        devices = {_inside(draft) for draft in self.drafts["devices"]}
        for number, draft in enumerate(self.drafts["readings"]):
            self._name_subject(("readings", number, "subject"), draft, devices)

    def _name_subject(self, path: Path, draft: Draft, devices: set[tuple[str, str] | None]) -> None:
        """Name the device or circuit that a reading is of, where its kind is read of such."""
        text, kind = draft.get("subject"), BY_NAME.get(draft.get("kind", ""))
        if text is None or kind is None or kind.subjects == ("conductor",):
            return
        if "device" in kind.subjects:
            for box, code in devices_in(text):
                if (box, code) in devices or self.known.has("device", (box, code)):
                    draft["subject"] = Subject.of_device(box, code)
                    return
        if "circuit" in kind.subjects and self.exists("circuits", text):
            draft["subject"] = Subject(text)
        elif "conductor" not in kind.subjects:
            del draft["subject"]
            self.faults.add(path, f"{shown(text)} is no {kind.read_of}. Correct it, or add that.")

    def exists(self, table: str, code: str) -> bool:
        """Return whether the file or the registry has this code, as far as can be told."""
        if code in self._codes[table] or table in self._lost:
            return True
        key = (table, code)
        if key not in self._found:
            self._found[key] = self.known.has(NOUNS[table], code)
        return self._found[key]

    def refer(self, path: Path, table: str, code: str) -> bool:
        """Return whether there is such a code; add a fault if not."""
        if self.exists(table, code):
            return True
        message = f"No {NOUNS[table]} is called {shown(code)} in the file or the registry."
        self.faults.add(path, f"{message} {self._hint(table, code)}")
        return False

    def _hint(self, table: str, code: str) -> str:
        key = (table, code)
        if key not in self._hints and len(self._hints) < _EXPLAINED:
            known = islice(self.known.codes(NOUNS[table]), _COMPARED)
            codes = dict.fromkeys((*islice(self._codes[table], _COMPARED), *known))
            close = near(code, sorted(codes))
            self._hints[key] = f"Close to it: {', '.join(close)}." if close else ""
        return self._hints.get(key) or f"Add {articled(NOUNS[table])} of that code, or correct it."

    def _check_unique_codes(self) -> None:
        for table in _CODED:
            self._check_unique(table, ((draft.get("code"), "code") for draft in self.drafts[table]))
        for table in _INSIDE:
            self._check_unique(table, ((_inside(draft), "code") for draft in self.drafts[table]))

    def _check_unique(self, table: str, keys: Iterator[tuple[Key | None, str]]) -> None:
        first: dict[Key, int] = {}
        for number, (key, name) in enumerate(keys):
            if key is None:
                continue
            path: Path = (table, number, name)
            if key in first:
                self.faults.add(path, self._used_twice(table, key, first[key]))
            elif self.known.has(NOUNS[table], key):
                noun = NOUNS[table]
                message = f"The registry has {articled(noun)} {_shown_key(key)} already."
                self.faults.add(path, f"{message} Give this one another code.")
            first.setdefault(key, number)

    def _used_twice(self, table: str, key: Key, number: int) -> str:
        other = self.faults.place((table, number))
        return f"{_shown_key(key)} is the code of {other} too. Give each {NOUNS[table]} its own."

    def _check_unique_ids(self) -> None:
        for table, drafts in self.drafts.items():
            first: dict[str, int] = {}
            noun = NOUNS.get(table, table)
            for number, draft in enumerate(drafts):
                key: Any = draft.get("id")
                if key is None or table == "site":
                    continue
                if key in first:
                    other = self.faults.place((table, first[key]))
                    message = f"{other} has the same identifier. Give each {noun} its own, or none."
                    self.faults.add((table, number, "id"), message)
                elif self.known.has(f"{REST[table].name if table in REST else noun} id", key):
                    message = f"The registry has {articled(noun)} of this identifier already."
                    self.faults.add((table, number, "id"), f"{message} Load each record once.")
                first.setdefault(key, number)

    def _check_far_ends(self, number: int, draft: Draft) -> None:
        seen = set()
        for place, end in enumerate(draft["far_ends"]):
            path: Path = ("pulls", number, "far_ends", place)
            box = end.get("enclosure")
            if box and not self.refer((*path, "enclosure"), "enclosures", box):
                del end["enclosure"]
            if "mark" not in end or "enclosure" not in end:
                continue
            key = (end["enclosure"], end["mark"])
            if key in seen:
                message = f"The mark {shown(end['mark'])} is there twice in {shown(key[0])}."
                self.faults.add((*path, "mark"), f"{message} Each far end has its own.")
            seen.add(key)


def _inside(draft: Draft) -> tuple[str, str] | None:
    return (draft["enclosure"], draft["code"]) if {"enclosure", "code"} <= draft.keys() else None


def _shown_key(key: Key) -> str:
    return shown(key[1]) if isinstance(key, tuple) else shown(key)


_TAGGED = (kinds.TAG, kinds.SUBJECT, kinds.COUNTERPART)
_KEYS = [(table, fact.key) for table, fact in _FACTS if fact.kind in _TAGGED]
_MOST_PROPOSED = 3


def check_tags(drafts: Drafts, known: Known, raw: RawSite) -> None:
    """Put each tag into its plain form; add a fault for each that is wrong, double or unknown."""
    bad, faults = [], raw.faults
    for path, draft, key in _places(drafts):
        try:
            draft[key] = _plain(key, draft[key])
        except TagError as error:
            bad.append((path, error))
            del draft[key]
    carried = _check_unique(drafts, known, faults)
    named = carried | {draft["subject"] for draft in drafts["readings"] if "subject" in draft}
    for path, wrong in bad:
        faults.add(path, str(_explained(wrong, named, known)))
    for path, draft, key in _places(drafts):
        tag = draft[key]
        if path[-1] == "tag" and path[0] == "conductors":
            continue
        if tag in carried or tag in ("raceway", "PE"):
            continue
        if not known.has("conductor", tag) and "conductors" not in raw.lost:
            message = f"No conductor is tagged {tags.format_tag(tag)} in the file or the registry."
            faults.add(path, f"{message} Add the conductor, or correct the tag.")


def _places(drafts: Drafts) -> Iterator[tuple[Path, Draft, str]]:
    for table, key in _KEYS:
        for number, draft in enumerate(drafts.get(table, ())):
            if key in draft and not isinstance(draft[key], Subject):
                yield (table, number, key), draft, key


def _plain(key: str, text: str) -> str:
    if key == "against" and text.strip().lower() in ("raceway", "pe"):
        return "PE" if text.strip().lower() == "pe" else "raceway"
    return tags.parse_tag(text)


def _check_unique(drafts: Drafts, known: Known, faults: Faults) -> set[str]:
    """Return the tags that conductors of the file carry."""
    first: dict[str, int] = {}
    for number, draft in enumerate(drafts["conductors"]):
        tag = draft.get("tag")
        if tag is None:
            continue
        path: Path = ("conductors", number, "tag")
        if tag in first:
            other = faults.place(("conductors", first[tag]))
            message = f"{tags.format_tag(tag)} is the tag of {other} too."
            faults.add(path, f"{message} Leave it out where a new one is meant.")
        elif known.has("conductor", tag):
            message = f"The registry has a conductor tagged {tags.format_tag(tag)} already."
            faults.add(path, f"{message} Leave it out where a new one is meant.")
        first.setdefault(tag, number)
    return set(first)


def _explained(error: TagError, named: set[str], known: Known) -> TagError:
    """Return the error with the existing tags that a single slip away from the text."""
    text = str(error.value)
    if not tags.looks_like_tag(text):
        return error
    slips = tags.single_slips(text)
    meant = [tags.format_tag(tag) for tag in slips if tag in named or known.has("conductor", tag)]
    return TagError(text, error.why, meant[:_MOST_PROPOSED])


REMARKS = ("notes", "attachments")
NAMES = tuple(REST[table].name for table in REMARKS)


def check_remarks(drafts: Drafts, known: Known, raw: RawSite) -> None:
    """Add a fault for each that is of nothing, says nothing, or brings what it doesn't say."""
    ids = {draft.get("id") for table in REMARKS for draft in drafts.get(table, ())}
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
    for table in REMARKS:
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
