# SPDX-License-Identifier: MIT
"""Retired conductors and circuits: what became of them, and what follows them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import day, surely_before
from wiretrack.errors import BadInputError, RetiredError
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.tags import format_tag
from wiretrack.store.searching import tag_of
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.store.store import Registry

BECAME = {
    "cut": "cut in two",
    "replaced": "replaced",
    "removed": "pulled out",
    "abandoned": "abandoned in its raceway",
}
ABANDONED = "abandoned"
# NEC 2023 articles 100 and 300.17 (reprint; original not seen), and common practice.
ABANDONED_CAUTION = (
    "Take both ends off their terminals, cap them and mark them. An abandoned conductor may still"
    " be live, or become so by induction or a fault beside it: prove it dead before each touch."
)


def conductor_in_service(registry: Registry, text: str) -> Conductor:
    """Return the conductor that `text` (a tag in any writing) names."""
    conductor = site_of(registry).one(Conductor, tag_of(registry, text))
    refuse_retired(registry, conductor)
    return conductor


def refuse_retired(registry: Registry, conductor: Conductor) -> None:
    """Raise `RetiredError` if a conductor is retired."""
    if conductor.retired_at is not None:
        raise RetiredError(
            str(conductor.tag),
            BECAME[conductor.retired_because or ABANDONED],
            day(conductor.retired_at),
            [str(follower.tag) for follower in conductor.in_its_place],
        )


def refuse_too_early(registry: Registry, found: Iterable[Conductor], at: str) -> None:
    """Refuse a change of a conductor before the change that it came from."""
    for conductor in found:
        if conductor.follows is None:
            continue
        old = site_of(registry).one(Conductor, conductor.follows)
        if old.retired_at is not None and surely_before(at, old.retired_at):
            raise BadInputError(
                f"{format_tag(conductor.tag or '')} came of {format_tag(old.tag or '')} on"
                f" {day(old.retired_at)}, so it can't have been changed on {day(at)}."
                " Look at the day of the change."
            )


def refuse_retired_circuit(circuit: Circuit) -> None:
    """Raise `RetiredError` if a circuit is retired."""
    if circuit.retired_at is not None:
        raise RetiredError(f"Circuit {circuit.code}", "retired", day(circuit.retired_at))


def refuse_retired_named(registry: Registry, kind: str, code: str) -> None:
    """Raise `RetiredError` if the conductor or circuit of this code is retired."""
    if kind == "conductor":
        refuse_retired(registry, site_of(registry).one(Conductor, code))
    elif kind == "circuit":
        refuse_retired_circuit(site_of(registry).one(Circuit, code))


@dataclass(frozen=True)
class Retirement:
    """When and why a conductor was retired, and the tags of what is in its place now."""

    at: str
    because: str
    became: str
    followed_by: list[str]
    in_its_place: list[str]
    caution: str | None


def retirement(conductor: Conductor) -> Retirement | None:
    """Return when and why a conductor was retired, and what is in its place now."""
    if conductor.retired_at is None:
        return None
    because = conductor.retired_because or ABANDONED
    return Retirement(
        at=conductor.retired_at,
        because=because,
        became=BECAME[because],
        followed_by=[str(follower.tag) for follower in conductor.followers],
        in_its_place=[str(follower.tag) for follower in conductor.in_its_place],
        caution=ABANDONED_CAUTION if because == ABANDONED else None,
    )


def is_in_place(conductor: Conductor) -> bool:
    """Return whether a conductor lies in its raceway: in use, or abandoned there."""
    return conductor.retired_at is None or conductor.retired_because == ABANDONED


def only_in_service(found: Sequence[Conductor]) -> list[Conductor]:
    """Return those of the conductors that are part of the work."""
    return [conductor for conductor in found if conductor.retired_at is None]
