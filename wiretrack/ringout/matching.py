# SPDX-License-Identifier: MIT
"""Which ends are matched: settled by closed readings, and safe from a contact not noticed.

A conductor that touches another one can read closed for it. So a match counts only where every
two components of the stages it rests on were touched often enough to find that out, and where
its conductor, if it was joined to another one, did read closed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.candidates import Candidates
    from wiretrack.ringout.knowledge import Knowledge


def matched(known: Knowledge) -> dict[int, int]:
    """Return, for the near ends that are matched, their far ends."""
    if not known.settling and known.bundle.size > 1:
        return {}
    now = dict(_settled(known, known.found))
    return {
        end: mate
        for end, mate in _settled(known, known.secure)
        if now.get(end) == mate and (known.broken("near", end) or not known.suspect("near", end))
    }


def pointed_at(known: Knowledge) -> dict[int, int]:
    """Return what closed readings point to, of which more touches must make sure."""
    if not known.begun:
        return {}
    sure = matched(known)
    return {end: mate for end, mate in _settled(known, known.found) if end not in sure}


def told_by_colour(known: Knowledge) -> list[int]:
    """Return the matched near ends that the readings alone, without colours, don't tell."""
    if not known.trust_colours or not any(end.colour for end in known.bundle.near):
        return []
    plain = known.colourless
    return [end for end, mate in matched(known).items() if plain.settled("near", end) != mate]


def never_closed(known: Knowledge) -> list[int]:
    """Return the matched near ends of which no closed reading shows that they are whole."""
    return [end for end in matched(known) if not known.proven("near", end)]


def _settled(known: Knowledge, found: Candidates) -> Iterator[tuple[int, int]]:
    for end in range(known.bundle.size):
        mate = found.settled("near", end)
        if mate is not None and found.settled("far", mate) == end:
            yield end, mate
