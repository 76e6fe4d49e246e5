# SPDX-License-Identifier: MIT
"""Landing an end on a terminal, capping it as a spare, or setting it loose."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.registry import keeping, wiring
from wiretrack.registry.searching import resolve
from wiretrack.tags import format_tag
from wiretrack.tasks.free_text import check_code
from wiretrack.tasks.retired import conductor_in_service
from wiretrack.words import END_STATES

if TYPE_CHECKING:
    from wiretrack.registry.store import Registry


def land(
    registry: Registry,
    tag: str,
    enclosure: str,
    *,
    terminal: str | None = None,
    state: str | None = None,
    who: str | None = None,
) -> dict[str, Any]:
    """Change the state of a conductor's end in an enclosure; return what it is now.

    With a terminal the end is landed on it; without one it is `state`: capped or loose.

    Raises
    ------
    BadInputError
        If terminal and state contradict, the conductor has no end in that enclosure, or its other
        end is on that terminal.
    """
    terminal = check_code("The terminal", terminal)
    state = state or ("landed" if terminal else None)
    if state not in END_STATES or (state == "landed") != bool(terminal):
        raise BadInputError(
            "An end is landed on a terminal, or capped or loose without one."
            " Give --terminal, or --capped, or --loose."
        )
    code = resolve(registry, enclosure, ("enclosure",)).code
    found = conductor_in_service(registry, tag).tag or ""
    here = [end for end in wiring.ends_of(registry, found) if end.enclosure == code]
    if not here:
        raise BadInputError(
            f"{format_tag(found)} has no end in {code}. See: wiretrack show {format_tag(found)}."
        )
    if terminal is not None and (here[0].other_enclosure, here[0].other_terminal) == (
        code, terminal,
    ):  # fmt: skip
        raise BadInputError(
            f"Both ends of {format_tag(found)} would be on {code} {terminal}."
            " Name another terminal."
        )
    keeping.land_end(registry, found, here[0].side, state, terminal, who=who)
    return {"tag": format_tag(found), "enclosure": code, "terminal": terminal, "state": state}
