# SPDX-License-Identifier: MIT
"""Tags in a site file: read in any written form, unique, and known where they are referred to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import TagError
from wiretrack.exchange.rest import REST
from wiretrack.model import kinds, tags
from wiretrack.model.entity import Subject
from wiretrack.model.fields import flat_facts
from wiretrack.model.source import TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.exchange.decode import Draft, Drafts
    from wiretrack.exchange.known import Known
    from wiretrack.exchange.places import Faults, Path
    from wiretrack.exchange.raw import RawSite

_KEYS = [
    (table, fact.key)
    for table, facts in (
        *((table, flat_facts(of)) for of, table in TABLES.items()),
        *((name, row.facts) for name, row in REST.items()),
    )
    for fact in facts
    if fact.kind in (kinds.TAG, kinds.SUBJECT, kinds.COUNTERPART)
]
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
        if not known.has_tag(tag) and "conductors" not in raw.lost:
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
            other = faults.places.name(("conductors", first[tag]))
            message = f"{tags.format_tag(tag)} is the tag of {other} too."
            faults.add(path, f"{message} Leave it out where a new one is meant.")
        elif known.has_tag(tag):
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
    meant = [tags.format_tag(tag) for tag in slips if tag in named or known.has_tag(tag)]
    return TagError(text, error.why, meant[:_MOST_PROPOSED])
