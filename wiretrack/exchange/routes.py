# SPDX-License-Identifier: MIT
"""Pulls are chains of raceways, and a conductor's ends lie on the chain of its pull."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.exchange.texts import shown
from wiretrack.model.routes import chains, joins

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.exchange.decode import Draft, Drafts
    from wiretrack.exchange.known import Known
    from wiretrack.exchange.places import Faults
    from wiretrack.model.routes import Ends


class RouteCheck:
    """The raceways and pulls of a file, over those of the registry."""

    def __init__(self, drafts: Drafts, known: Known, faults: Faults) -> None:
        self.drafts, self.known, self.faults = drafts, known, faults
        self._ends: dict[str, Ends | None] = {}
        self._chains: dict[str, list[list[str]]] = {}
        for draft in drafts["raceways"]:
            if {"code", "from", "to"} <= draft.keys():
                self._ends.setdefault(draft["code"], (draft["from"], draft["to"]))
            elif "code" in draft:
                self._ends.setdefault(draft["code"], None)

    def check(self) -> None:
        """Add a fault for each raceway, pull and conductor that leads nowhere."""
        for number, draft in enumerate(self.drafts["raceways"]):
            if "from" in draft and draft["from"] == draft.get("to"):
                message = f"The raceway leads from {shown(draft['from'])} back to it."
                self.faults.add(("raceways", number, "to"), f"{message} Name two enclosures.")
        for number, draft in enumerate(self.drafts["pulls"]):
            self._check_pull(number, draft)
        for number, draft in enumerate(self.drafts["conductors"]):
            if {"pull", "from.enclosure", "to.enclosure"} <= draft.keys():
                self._check_conductor(number, draft)

    def _ends_of(self, code: str) -> Ends | None:
        if code not in self._ends:
            self._ends[code] = self.known.raceway_ends(code)
        return self._ends[code]

    def _check_pull(self, number: int, draft: Draft) -> None:
        path = draft.get("path", ())
        ends = [self._ends_of(code) for code in path]
        known = [pair for pair in ends if pair is not None]
        found = chains(known) if len(known) == len(path) else []
        if "code" in draft:
            self._chains.setdefault(draft["code"], found)
        if len(known) == len(path) and path and not found:
            self.faults.add(("pulls", number, "path"), _broken(path, known))
        for place, end in enumerate(draft["far_ends"]):
            box = end.get("enclosure")
            if found and box is not None and box not in found[0]:
                message = f"{shown(box)} is not on the way of the pull: {_way(found[0])}."
                where = ("pulls", number, "far_ends", place, "enclosure")
                self.faults.add(where, f"{message} Name one of these.")

    def _chains_of(self, pull: str) -> list[list[str]]:
        if pull not in self._chains:
            ends = [self._ends_of(code) for code in self.known.pull_path(pull) or ()]
            known = [pair for pair in ends if pair is not None]
            self._chains[pull] = chains(known) if len(known) == len(ends) else []
        return self._chains[pull]

    def _check_conductor(self, number: int, draft: Draft) -> None:
        found = self._chains_of(draft["pull"])
        one, other = draft["from.enclosure"], draft["to.enclosure"]
        if not found or any(joins(chain, one, other) for chain in found):
            return
        message = (
            f"The ends, in {shown(one)} and {shown(other)}, are not joined by the path of pull"
            f" {shown(draft['pull'])}: {_way(found[0])}. Correct an end, the pull or its path."
        )
        self.faults.add(("conductors", number, "pull"), message)


def _way(chain: Sequence[str]) -> str:
    """Return the enclosures of a chain for people; the middle of a long one is left out."""
    shorter = [*chain[:6], "…", *chain[-3:]] if len(chain) > 10 else chain
    return " - ".join(shorter)


def _broken(path: Sequence[str], ends: Sequence[Ends]) -> str:
    """Return the sentence on the first raceway that doesn't go on from those before it."""
    at = next(at for at in range(2, len(ends) + 1) if not chains(ends[:at]))
    before, after = at - 2, at - 1
    return (
        f"The raceways {shown(path[before])} ({_way(ends[before])}) and {shown(path[after])}"
        f" ({_way(ends[after])}) don't follow on each other. List them in the order of the pull."
    )
