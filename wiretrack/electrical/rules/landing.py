# SPDX-License-Identifier: MIT
"""What lies together on one terminal, and poles whose terminals nothing is landed on.

Two conductors on one terminal are one point of the circuit. Two polarities there are a short
circuit, and a live conductor with a protective one is an earth fault: that follows from what the
functions mean (IEC 60445), so no limit has to be looked up.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Clause, Finding, rule
from wiretrack.late import dataclass
from wiretrack.model.words import LINES, PROTECTIVE
from wiretrack.plain import few
from wiretrack.sources import COMMON_PRACTICE, IEC_60445

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from wiretrack.electrical.runs import Wire
    from wiretrack.model.entity import Outcome
    from wiretrack.model.parts import Device
    from wiretrack.model.source import SiteDocument

_POLARITIES = {"L+", "L-"}
_MOST_NAMED = 8


@dataclass(frozen=True)
class Landed:
    """What an end is, as far as its neighbours on a terminal are concerned."""

    tag: str
    circuit: str
    function: str
    solidly_earthed: bool | None = None
    served: tuple[str, ...] = ()  # the codes of its circuits, where it serves not just one

    @property
    def words(self) -> str:
        """How a message names it."""
        return f"{self.tag} ({self.circuit} {self.function})"


@dataclass(frozen=True)
class Unmatched:
    """Terminals of an enclosure's poles with nothing on them; `near` is landed on no pole."""

    enclosure: str
    terminals: tuple[str, ...]
    near: tuple[str, ...]


def at_odds(one: Landed, other: Landed) -> Outcome:
    """Return ``fail`` where two ends can't lie on one terminal, ``doubt`` where they may not.

    >>> at_odds(Landed("A", "PV1", "L+"), Landed("B", "PV1", "L-"))
    'fail'
    >>> at_odds(Landed("A", "K1", "PE"), Landed("B", "K2", "PE"))
    'pass'
    """
    functions, same = {one.function, other.function}, _share(one, other)
    live = functions & {*LINES, *_POLARITIES}
    if not live:
        return "pass"
    if functions & {*PROTECTIVE}:
        earthed = any(
            end.function in _POLARITIES and end.solidly_earthed for end in (one, other)
        )  # such a system is earthed at one place, where this may be it
        return "doubt" if earthed else "fail"
    if functions & {"N", "M"} or (live & {*LINES} and live & _POLARITIES):
        return "fail"
    if len(live) > 1 and live <= _POLARITIES:
        return "fail" if same else "doubt"  # of two circuits: strings or batteries in series
    return "fail" if len(live) > 1 and same else "pass"


def _share(one: Landed, other: Landed) -> bool:
    """Return whether both serve a circuit."""
    mine, theirs = one.served or (one.circuit,), other.served or (other.circuit,)
    return not {*mine}.isdisjoint(theirs)


@rule("landing", lambda built: [("site", (built.document, built.wires))])
def landing(document: SiteDocument, wires: Iterable[Wire]) -> list[Finding]:
    """Return a finding for each terminal with two ends or more, and each box with bare poles."""
    on: defaultdict[tuple[str, str], list[Landed]] = defaultdict(list)
    for wire in wires:
        for end in wire.conductor.ends:
            if end.terminal and end.state != "loose":
                on[end.enclosure, end.terminal].append(
                    Landed(
                        wire.name,
                        wire.circuit.code,
                        wire.conductor.function,
                        wire.circuit.solidly_earthed,
                        wire.conductor.circuits,
                    )
                )
    single = _single(document.devices)
    findings = [
        _of_terminal(f"{box}/{terminal}", ends, is_single=(box, terminal) in single)
        for (box, terminal), ends in on.items()
        if len(ends) > 1
    ]
    landed: defaultdict[str, list[str]] = defaultdict(list)
    for box, terminal in on:
        landed[box].append(terminal)
    devices: defaultdict[str, list[Device]] = defaultdict(list)
    for device in document.devices:
        devices[device.enclosure].append(device)
    for box, inside in devices.items():
        bare = unmatched_poles(inside, landed[box])
        if bare is not None:
            findings.append(_of_poles(bare))
    return findings


def _single(devices: Iterable[Device]) -> set[tuple[str, str]]:
    """Return the terminals of breakers and fuses that no other pole shares."""
    named = Counter(
        (device.enclosure, code)
        for device in devices
        for pole in device.poles
        for code in pole
        if device.kind in ("breaker", "fuse")
    )
    return {place for place, count in named.items() if count == 1}


def _of_terminal(place: str, ends: Sequence[Landed], *, is_single: bool) -> Finding:
    """Return what lies together on a terminal; a breaker's or fuse's takes one wire as a rule."""
    clause = Clause("landing", place, IEC_60445.key)
    judged = [(at_odds(one, other), one, other) for one, other in combinations(ends, 2)]
    for outcome in ("fail", "doubt"):
        for found, one, other in judged:
            if found == outcome:
                reason = f"{one.words} and {other.words} are on one terminal"
                if outcome == "doubt":
                    reason += "; right only where circuits lie in series, or the system is earthed"
                return clause.finds(found, reason)
    if is_single:
        reason = f"{len(ends)} ends are on one terminal of a breaker or fuse"
        reason += "; right only where it is marked for so many"
        return Clause("landing", place, COMMON_PRACTICE.key).finds("doubt", reason)
    return clause.finds("pass", f"{len(ends)} ends that may lie together")


def _of_poles(bare: Unmatched) -> Finding:
    clause = Clause("landing", bare.enclosure, IEC_60445.key)
    reason = f"nothing is landed on {named_shortly(bare.terminals)}"
    if bare.near:
        reason += f", but on {named_shortly(bare.near)}, which no pole has"
        return clause.finds("doubt", reason)
    return clause.finds("pass", f"{reason}: spare, or not recorded")


def named_shortly(names: Sequence[str]) -> str:
    """Return names for people; of many the first ones."""
    return few(names, _MOST_NAMED)


def unmatched_poles(devices: Iterable[Device], landed: Collection[str]) -> Unmatched | None:
    """Return the poles' terminals that nothing is landed on, and what is landed near by.

    A terminal that several poles share is joined there, so nothing need be landed on it. `near`
    are landed terminals of the same enclosure that are on no pole and have a name like one.
    """
    poles = [(device, name) for device in devices for pole in device.poles for name in pole]
    if not poles:
        return None
    names = [name for _, name in poles]
    joined = {*landed} | {name for name, count in Counter(names).items() if count > 1}
    bare = [(device, name) for device, name in poles if name not in joined]
    if not bare:
        return None
    known = {*names}
    stray = [name for name in landed if name not in known]
    near = [name for name in stray if any(_alike(name, device.code, pole) for device, pole in bare)]
    if near:
        bare = [(d, pole) for d, pole in bare if any(_alike(name, d.code, pole) for name in near)]
    return Unmatched(
        bare[0][0].enclosure, tuple(dict.fromkeys(name for _, name in bare)), tuple(near)
    )


def _alike(name: str, device: str, pole: str) -> bool:
    """Return whether a terminal's name may mean a pole's: Q4-1, Q4.T1, 4:1 or 1 for Q4:1."""
    upper, code = name.upper(), device.upper()
    rest = upper.removeprefix(code) if upper != code else ""
    if rest not in ("", upper) and not (code[-1:].isdigit() and rest[0].isdigit()):
        return True
    plain, own = (re.sub(r"[\W_]", "", text).upper() for text in (name, pole))
    return upper == pole.upper().rpartition(":")[2] or (len(plain) > 1 and own.endswith(plain))
