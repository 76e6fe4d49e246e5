# SPDX-License-Identifier: MIT
"""How many walks, joins and touches a ring-out will take, before it begins; by each method.

Up to some dozens of conductors the numbers are the mean, and the most, over imagined arrangements
of a sound bundle. Above, they are scaled from a smaller bundle with the same shares of each colour,
and are good to some 15 %: by powers measured on one colour (joins of any size up to 200 conductors,
pairs and a resistor kit up to 40 and 100).
"""

from __future__ import annotations

from dataclasses import field, replace
from math import lgamma, log
from typing import TYPE_CHECKING

from wiretrack.encoding import INLINE
from wiretrack.late import dataclass
from wiretrack.ringout.bundle import (
    Bundle,
    FarEnd,
    NearEnd,
    Times,
    other_place,
)
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.fitting import MOST_ROUNDS
from wiretrack.ringout.imagined import (
    Imagined,
    at_random,
    class_sizes,
    enough_resistors,
    every_arrangement,
)
from wiretrack.ringout.masks import lowest
from wiretrack.ringout.ohms import usable
from wiretrack.ringout.probing import model_of
from wiretrack.ringout.results import Result
from wiretrack.ringout.screening import OPEN_TOUCHES, next_cut
from wiretrack.ringout.several import tour
from wiretrack.ringout.stage import Stage, Touch

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.likelihood import Model

DIODE_NOTE = "Two wires that look the same stay unknown: a diode over them settles it in one walk."
ABOUT_NOTE = "~: scaled from a smaller bundle: within about 15 %."
_ALL = 4  # conductors; up to so many every arrangement is imagined


@dataclass(frozen=True)
class Forecast:
    """What a ring-out takes; `worst` holds if nothing is faulty and no contact is bad."""

    ALSO = ("minutes",)

    walks: int
    joins: int
    hands: int = field(metadata={"json": "ends_twisted"})
    expected: float = field(metadata={"json": "touches_expected"})
    worst: int = field(metadata={"json": "touches_worst"})
    screening: float = field(metadata={"json": "touches_for_contacts"})
    whole: bool = field(metadata={"json": "identifies_all"})
    times: Times = field(metadata={"json": None})
    about: bool = False  # whether the numbers are scaled from a smaller bundle

    @property
    def minutes(self) -> int:
        """How long it takes about, walks included."""
        return round(self.times.of(self.walks, self.hands, self.expected) / 60)


@dataclass(frozen=True)
class _Growth:
    """Up to how many conductors to imagine, how much, and how the numbers grow above."""

    limit: int
    effort: int  # conductors imagined in all
    touches: float  # powers of the number of conductors
    worst: float
    screening: float = 0.0


_JOINS = _Growth(limit=48, effort=120, touches=1.45, worst=1.6)
_PAIRS = _Growth(limit=18, effort=40, touches=1.85, worst=2.0, screening=2.0)
_KIT = _Growth(limit=40, effort=80, touches=1.0, worst=1.0)


def forecast(bundle: Bundle) -> Forecast:
    """Return what ringing out a bundle will take."""
    growth = _growth(bundle)
    if bundle.size <= growth.limit:
        return _imagined(bundle, growth.effort)
    small = _shrunk(bundle, growth.limit)
    return _grown(_imagined(small, growth.effort), growth, bundle.size / growth.limit)


def _growth(bundle: Bundle) -> _Growth:
    if enough_resistors(bundle):
        return _KIT
    return _PAIRS if bundle.joins == "pairs" else _JOINS


def _imagined(bundle: Bundle, effort: int) -> Forecast:
    """Return the mean and the most over all arrangements if they are few, or imagined ones."""
    few = bundle.size <= _ALL
    seeds = range(max(2, min(24, effort // bundle.size)))
    worlds = every_arrangement(bundle) if few else (at_random(bundle, seed) for seed in seeds)
    runs = [_rung_out(world) for world in worlds]
    results, count = [run.result() for run in runs], len(runs)
    return Forecast(
        walks=max(result.walks for result in results),
        joins=round(sum(result.joins for result in results) / count),
        hands=round(sum(result.hands for result in results) / count),
        expected=round(sum(result.probes for result in results) / count, 1),
        worst=max(run.evidence.probes if few else _worst_run(run) for run in runs),
        screening=round(sum(result.screening_probes for result in results) / count, 1),
        whole=not any(result.unresolved for result in results),
        times=bundle.times,
    )


def _grown(small: Forecast, growth: _Growth, ratio: float) -> Forecast:
    screening = small.screening * ratio**growth.screening
    placing = (small.expected - small.screening) * ratio**growth.touches
    return replace(
        small,
        joins=small.joins,
        hands=round(small.hands * ratio),
        expected=round(placing + screening),
        worst=round(small.worst * ratio**growth.worst),
        screening=round(screening),
        about=True,
    )


def _shrunk(bundle: Bundle, limit: int) -> Bundle:
    """Return a bundle of `limit` conductors with about the same share of each colour."""
    step = bundle.size / limit
    chosen = [bundle.near[int(i * step)] for i in range(limit)]
    shown = class_sizes(bundle) != [bundle.size] or None not in {e.colour for e in bundle.far}
    near = tuple(NearEnd(name=str(i), colour=end.colour) for i, end in enumerate(chosen))
    far = tuple(
        FarEnd(name=str(i), colour=end.colour if shown else None) for i, end in enumerate(chosen)
    )
    return replace(bundle, near=near, far=far)


def _worst_run(run: Ringout) -> int:
    evidence = run.evidence
    known = Deductions(evidence)
    total = sum(len(fitted.touches) for fitted in evidence.fitted.values())
    total += sum(len(stage.checks) for stage in known.diodes)
    total += sum(ends.bit_count() for ends in evidence.apart.values())
    for stage in evidence.stages.values():
        if stage.is_bare or stage in known.checks:
            total += len(stage.touches)
        else:
            model = model_of(known, stage)
            searched = known.bare_depth(other_place(stage.at))
            need = max(0, OPEN_TOUCHES - searched) if evidence.bundle.screen != "none" else 0
            total += _worst_placing(model)
            total += _worst_screening(stage, model, need, evidence.bundle.twist)
    return total


def _worst_placing(model: Model) -> int:
    """Return the most touches that finding the groups of a stage can take."""
    total = 0
    met: set[int] = set()
    for kind, count in enumerate(model.totals):
        reach = {index for index, _ in model.present[kind]}
        largest = max((cap for _, cap in model.present[kind]), default=1)
        if largest > 1:
            total += sum(min(placed + len(met), len(met | reach)) for placed in range(count))
        else:
            joined = len(reach & met)
            total += (count - joined) * len(met) + sum(len(met) - i for i in range(joined))
        met |= reach
    return total


def _worst_screening(stage: Stage, model: Model, need: int, twist: float) -> int:
    """Return the most touches against unnoticed contacts, when no open touch is there yet."""
    empty = Stage.holding(stage.at, stage.size, stage.groups, model.groups)
    count, held, parts = 0, 0, empty.components()
    while (cut := next_cut(empty, parts, need, held, twist=twist)) is not None:
        own = tuple(side for side in cut if side.bit_count() > 1)
        held = own[0] if own else 0
        empty.add(Touch(count, stage.at, (lowest(cut[0]), lowest(cut[1])), own, "open", None))
        count += 1
    return count


def _rung_out(world: Imagined) -> Ringout:
    ringing = Ringout(world.bundle)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, world.answer(step))
    return ringing


@dataclass(frozen=True)
class Method:
    """One way to ring a bundle out: what it needs, why it takes what it takes, and that."""

    name: str = field(metadata={"json": "method"})
    needs: str
    why: str
    forecast: Forecast = field(metadata={"json": INLINE})


def information_bound(bundle: Bundle) -> float:
    """Return log2 of the number of arrangements: no plan needs fewer yes-or-no touches on average.

    Conductors of one colour, seen at both places, can change places with each other; those whose
    colour isn't seen at both can change places with all of those.

    >>> from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd
    >>> near = tuple(NearEnd(name=f"T{i}") for i in range(4))
    >>> far = tuple(FarEnd(name=str(i)) for i in range(4))
    >>> round(information_bound(Bundle(near=near, far=far)), 3)
    4.585
    """
    return sum(lgamma(count + 1) for count in class_sizes(bundle)) / log(2)


def compare_methods(bundle: Bundle) -> list[Method]:
    """Return what each method takes for a bundle, the plainest first."""
    plain = replace(bundle, resistors=(), diode=False, ohms=False, crew=1, joins="any")
    plain = replace(plain, screen="auto")
    alone = forecast(plain)
    return [
        Method("joins and walks", "the meter alone", _why_joins(alone), alone),
        *_with_diode(plain, alone),
        *_with_ohms(replace(plain, ohms=bundle.ohms), alone),
        *_with_kit(replace(plain, resistors=bundle.resistors, start="far")),
        *_with_helper(replace(plain, crew=2)),
        *_with_less(plain),
    ]


def in_one_tour(each: Sequence[Sequence[Method]]) -> list[Method]:
    """Return what each method takes for several far boxes in one tour, `each` box's being given.

    A method that not every box has is left out.
    """
    first, *others = each
    found = []
    for method in first:
        same = [one.forecast for m in others for one in m if one.name == method.name]
        if len(same) == len(others):
            every = [method.forecast, *same]
            found.append(replace(method, forecast=_summed(every) if same else method.forecast))
    return found


def _summed(each: Sequence[Forecast]) -> Forecast:
    added = {
        name: sum(getattr(one, name) for one in each)
        for name in ("joins", "hands", "expected", "worst", "screening")
    }
    return Forecast(
        **added,
        walks=tour([one.walks for one in each]),
        whole=all(one.whole for one in each),
        times=each[0].times,
        about=any(one.about for one in each),
    )


def _why_joins(alone: Forecast) -> str:
    if not alone.whole:
        return "Joins look the same from both ends of two look-alikes."
    if alone.walks < 2:
        return "Colours and references tell all groups apart: the joins of one walk do."
    return "Joins here, then joins there: two walks match any number of wires but two."


def _with_diode(plain: Bundle, alone: Forecast) -> Iterator[Method]:
    """Yield the diode where it saves a walk, or does what joins can't."""
    found = forecast(replace(plain, diode=True)) if not alone.whole else alone
    if found.whole and not alone.whole:
        why = "It lets current through one way only: read both ways at both boxes."
        yield Method("diode", "a diode, a meter with a diode range", why, found)


def _with_ohms(read: Bundle, alone: Forecast) -> Iterator[Method]:
    """Yield the wires' own resistance where it saves a walk."""
    found = forecast(read) if read.ohms else alone
    if found.walks < alone.walks:
        why = "Sizes or lengths differ: all of a kind are twisted together. No match is sure."
        yield Method("ohms", "each reading in ohms", why, found)


def _with_kit(kitted: Bundle) -> Iterator[Method]:
    if not kitted.resistors:
        return
    values, largest = len(usable(kitted)), max(class_sizes(kitted))
    given = len(set(kitted.resistors))
    why = f"{values} of the {given} values can't be taken for each other; {largest} look alike."
    if values < 2 or values**MOST_ROUNDS < largest:
        why += " Too few to help."
    elif values < largest:
        why += " Each is used for several at a time, in two rounds."
    else:
        why += " One reading a conductor."
    needs = "the resistors given; begin at the far box"
    yield Method("resistor kit", needs, why, forecast(kitted))


def _with_helper(helped: Bundle) -> Iterator[Method]:
    why = "Joins as for one person; nobody walks to change them."
    yield Method(
        "helper with a radio", "somebody at the other box, two radios", why, forecast(helped)
    )


def _with_less(plain: Bundle) -> Iterator[Method]:
    pairs = forecast(replace(plain, joins="pairs"))
    why = "Pairs look like pairs: they are chained over both boxes, with more touches."
    yield Method("pairs only", "hands that twist two at a time", why, pairs)
    brief = forecast(replace(plain, screen="none"))
    why = "A short between two of them can go unnoticed, and swap a match."
    yield Method("no search for contacts", "an insulation test afterwards", why, brief)
