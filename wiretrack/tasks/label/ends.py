# SPDX-License-Identifier: MIT
"""The ends that a word names, each as what its label says, and what of it a legend shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint
from wiretrack.labels.forms import KINDS
from wiretrack.labels.subject import CONDUCTOR, Asked
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import conductor_in_service

if TYPE_CHECKING:
    from wiretrack.labels.subject import LabelKind, LabelSubject, Side
    from wiretrack.store.store import Registry

SIDES: tuple[Side, Side] = ("from", "to")


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Which labels: of what, of which kind; `due` are conductors' ends that need one only."""

    what: str | None
    kind: str = CONDUCTOR.kind
    due: bool = False
    pitch_mm: float | None = None
    terminals: tuple[str, ...] = ()

    @property
    def plug(self) -> LabelKind:
        """The kind itself."""
        return KINDS[self.kind]


def asked(registry: Registry, wanted: Wanted) -> Asked:
    """Return of what labels are wanted, with the site that it is a record of.

    Raises
    ------
    NotFoundError, TagError, RetiredError
        If nothing is called so, or it is a conductor that is no longer part of the work.
    BadInputError
        If nothing is named where something must be.
    """
    site, kind, word, part = site_of(registry), wanted.plug, wanted.what, None
    if word is None:
        if not kind.of_site:
            raise BadInputError(
                "What is to be labelled isn't said.", Hint("Name it, or take {due}.")
            )
        return Asked(site=site)
    if kind.of_parts:
        word, slash, behind = word.partition("/")
        part = behind if slash else None
    named = resolve(registry, word, kind.of)
    if kind.of_conductors and named.what == "conductor":
        conductor_in_service(registry, named.code)
    return Asked(
        site=site,
        what=named.what,
        code=named.code,
        part=part,
        pitch_mm=wanted.pitch_mm,
        terminals=wanted.terminals,
    )


def conductors_asked(registry: Registry, what: str | None = None) -> Asked:
    """Return what a word names, of which conductors' ends may be asked; the site without it."""
    if what is None:
        return Asked(site=site_of(registry))
    return asked(registry, Wanted(what=what))


def subjects(registry: Registry, what: str | None = None) -> list[LabelSubject]:
    """Return the ends that `what` names; all ends of the site without it.

    Both ends of a conductor, or of each one in a circuit, pull or raceway; for an enclosure the
    ends that lie in it.

    Raises
    ------
    NotFoundError, TagError
        If nothing is called so.
    """
    return CONDUCTOR.subjects(conductors_asked(registry, what))
