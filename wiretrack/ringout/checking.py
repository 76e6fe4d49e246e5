# SPDX-License-Identifier: MIT
"""The check at the end: some of the matched wires are twisted once more, in new pairs, and touched.

All of its touches should read closed, and closed is proof. A slip that no reading contradicts has
exchanged two wires which one stage alone tells apart. So of such two one at least is touched, in a
pair with a wire from which several stages tell it apart, as far as a third as many touches as there
are wires do. What is read in a check proves no match. Where it isn't closed, nothing is sure any
more: what did read closed may have done so over wires that touch now and then.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, other_place
from wiretrack.ringout.masks import bits, mask_of, union
from wiretrack.ringout.probing import SEARCH_TOUCHES

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.deductions import Deductions
    from wiretrack.ringout.stage import Stage, Touch

Pair = tuple[int, int]

SHARE = 3  # conductors for each touch of a check
CHECKED = "Closed readings at the boxes tell it from all others. A check at the end confirmed it."
MISSED = "{ends} read open in {box} in the check at the end, though twisted together in {there}."
_MOST_COMPARED = 20  # ends, those with most to show, of which each pair is the best two


def is_led(known: Deductions, sure: Collection[int]) -> bool:
    """Return whether a check is to be made at the end.

    It is if it is asked for, or if all wasn't smooth and any match is `sure`.
    """
    asked = known.bundle.check
    return asked in ("led", "always") or (asked == "auto" and bool(sure) and is_irregular(known))


def is_irregular(known: Deductions) -> bool:
    """Return whether anything read, found or done hints at trouble.

    Readings that contradict, or changed when touched again; wires that are broken or touch; ends
    that never read closed.
    """
    if known.found.refused or any(known.contacts.at(place) for place in PLACES):
        return True
    for stage in known.evidence.stages.values():
        verdicts = ({touch.verdict for touch in touches} for touches in stage.pairs.values())
        changed = any(len(one) > 1 or "unclear" in one for one in verdicts)
        if changed or stage.closed_bunches or next(stage.open_within(), None):
            return True
    silent = any(
        known.broken(at, end) and not known.bundle.absent[at] >> end & 1
        for at in PLACES
        for end in range(known.bundle.size)
    )
    odd = any(stage.odd() for stage in known.fitted)
    return silent or odd or any(known.badly_touched(at) for at in PLACES)


def check_groups(
    known: Deductions, place: Place, sure: Collection[int], apart: Collection[Pair] = ()
) -> tuple[int, ...] | None:
    """Return what to twist together at `place` for a check; `None` if none can be made there.

    It is one of what is `sure`, or else of all that is matched. Two ends of the other place that
    are to be kept `apart` are in no pair.
    """
    if known.checks or not known.begun:
        return None
    state = (place, *known.state())
    return known.evidence.remember("check", state, lambda: _groups(known, place, sure, apart))


def _groups(
    known: Deductions, place: Place, sure: Collection[int], apart: Collection[Pair]
) -> tuple[int, ...] | None:
    matched = known.matched
    ends = [end for end, mate in matched.items() if _can_be_checked(known, place, end, mate)]
    near = {end if place == "far" else mate: end for end, mate in matched.items()}
    barred = {frozenset(near.get(end, -1) for end in pair) for pair in apart}
    risks = _risks(known, ends, sure or ends)
    pairs = _pairs(risks, known.bundle.most_matches // SHARE, barred)
    mate = {end: end if place == "near" else matched[end] for end in ends}
    groups = tuple(sorted(mask_of((mate[one], mate[two])) for one, two in pairs))
    return groups if groups and (other_place(place), groups) not in known.evidence.stages else None


def _can_be_checked(known: Deductions, place: Place, end: int, mate: int) -> bool:
    """Return whether a matched wire read closed, for itself only, and can be touched away there."""
    there = other_place(place)
    if known.touching("near", end) or known.touching("far", mate):
        return False
    touched = end if there == "near" else mate
    silent = known.broken(there, touched) or touched in known.badly_touched(there)
    return known.proven("near", end) and not silent


def _risks(known: Deductions, ends: list[int], sure: Collection[int]) -> dict[int, int]:
    """Return, for each end, those that it can have been exchanged with unnoticed, as bits.

    They look alike, one of them at least is `sure`, and one stage alone tells them apart, or as few
    as there are.
    """
    matched, start = known.matched, known.start.of
    near, chosen = {matched[end]: end for end in ends}, mask_of(end for end in ends if end in sure)
    stages = [stage for stage in known.stages if stage not in known.found.refused]
    fitted = sum(stage not in known.found.refused for stage in known.fitted)
    together = [_together(stage, ends, matched) for stage in stages]
    near_of = {
        row: mask_of(near[mate] for mate in bits(row) if mate in near)
        for row in {start["near"][end] for end in ends}
    }
    # Per end, those that it can be exchanged with and that at most so many stages tell apart.
    apart: dict[int, list[int]] = {}
    for end in ends:
        others = near_of[start["near"][end]] & start["far"][matched[end]] & ~(1 << end)
        most = [others if end in sure else others & chosen] * (1 + len(stages))
        for alike in together:
            most = [
                (now & alike[end]) | fewer for now, fewer in zip(most, (0, *most), strict=False)
            ]
        apart[end] = most
    fewest = (n for n in range(len(stages)) if any(most[n] for most in apart.values()))
    least = max(1, fitted + next(fewest, len(stages))) - fitted
    return {end: most[min(least, len(stages))] for end, most in apart.items()}


def _together(stage: Stage, ends: Sequence[int], matched: Mapping[int, int]) -> dict[int, int]:
    """Return, for each near end, those that a stage joined to the same as it."""
    joined = {end: end if stage.at == "far" else matched[end] for end in ends}
    home = {end: next((g for g in stage.groups if g >> one & 1), 0) for end, one in joined.items()}
    held: dict[int, int] = {}
    for end in ends:
        held[home[end]] = held.get(home[end], 0) | 1 << end
    return {end: held[home[end]] for end in ends}


def _pairs(risks: dict[int, int], most: int, barred: Collection[frozenset[int]]) -> list[Pair]:
    """Return at most so many pairs: each shows the exchanges of its two ends with all others.

    It doesn't show one of the two with each other, nor both with those of another pair crosswise.
    """
    open_, crosswise = dict(risks), dict.fromkeys(risks, 0)
    pairs: list[Pair] = []

    def gain(one: int, two: int) -> int:
        if frozenset((one, two)) in barred:
            return -1
        hidden = (crosswise[one] & risks[two]).bit_count()
        inside = 2 * (risks[one] >> two & 1)
        return open_[one].bit_count() + open_[two].bit_count() - inside - hidden

    while len(pairs) < most:
        likely = sorted(open_, key=lambda end: (-open_[end].bit_count(), end))[:_MOST_COMPARED]
        best, gained = None, 0
        for number, one in enumerate(likely, 1):
            for two in likely[number:]:
                if open_[one].bit_count() + open_[two].bit_count() <= gained:
                    break  # nor do those after it gain more
                if (more := gain(one, two)) > gained:
                    best, gained = (one, two), more
        if best is None:
            break
        pairs.append(best)
        for done, partner in (best, best[::-1]):
            del open_[done]
            for end in bits(risks[done]):
                crosswise[end] |= 1 << partner
        open_ = {end: others & ~mask_of(best) for end, others in open_.items()}
    return pairs


def expected(known: Deductions, stage: Stage) -> Iterator[Pair]:
    """Yield the ends that should read closed to each other in a check."""
    there = other_place(stage.at)
    for group in stage.groups:
        mates = [known.found.settled(there, end) for end in bits(group)]
        if None not in mates:
            first, *others = [mate for mate in mates if mate is not None]
            yield from ((first, other) for other in others)


def next_check(known: Deductions, stage: Stage) -> Pair | None:
    """Return the next two ends to touch in a check, those that read open a few times again."""
    waiting = [
        (len(stage.asked(*pair)), number, pair)
        for number, pair in enumerate(expected(known, stage))
        if not stage.closed(*pair) and len(stage.asked(*pair)) < SEARCH_TOUCHES
    ]
    return max(waiting, key=lambda one: (one[0], -one[1]))[-1] if waiting else None


def missed(known: Deductions) -> Iterator[tuple[Stage, Touch]]:
    """Yield the last touch of each two ends that should have read closed in a check, and didn't."""
    for stage in known.checks:
        for pair in expected(known, stage):
            touches = stage.asked(*pair)
            if touches and not stage.closed(*pair):
                yield stage, touches[-1]


def confirmed(known: Deductions) -> int:
    """Return the near ends that read closed in a check as they should, as bits."""
    found = 0
    for stage in known.checks:
        for pair in expected(known, stage):
            if stage.closed(*pair):
                mates = (known.found.of[stage.at][end] for end in pair)
                found |= mask_of(pair) if stage.at == "near" else union(mates)
    return found


def doubted(known: Deductions) -> Iterator[tuple[int, str]]:
    """Yield the matched near ends that a check leaves in doubt, all if any, and why."""
    for stage, touch in missed(known):
        names = " and ".join(known.bundle.names(stage.at)[end] for end in touch.ends)
        box, there = known.bundle.box(stage.at), known.bundle.box(other_place(stage.at))
        why = MISSED.format(ends=names, box=box, there=there)
        yield from ((end, why) for end in known.matched)


def look_at(known: Deductions) -> Iterator[str]:
    """Yield what to look at where a check didn't confirm what was matched, a sentence or two."""
    for stage, touch in missed(known):
        there = other_place(stage.at)
        box, away = known.bundle.box(stage.at), known.bundle.box(there)
        ends = known.evidence.names(stage.at, mask_of(touch.ends))
        mates = union(known.found.of[stage.at][end] for end in touch.ends)
        twist = " + ".join(known.evidence.names(there, mates))
        yield (
            f"The check at the end: {' and '.join(ends)} read open in {box}. Look at the twist"
            f" {twist} in {away}. If it holds, ends changed places in an earlier twist:"
            " ring out again."
        )


def confirmations(known: Deductions, end: int) -> Iterator[str]:
    """Yield the closed readings of checks that confirm what belongs to a near end."""
    for stage in known.checks if confirmed(known) >> end & 1 else ():
        mate = known.matched.get(end)
        here = end if stage.at == "near" else mate
        for group in stage.groups if here is not None else ():
            if group >> (end if stage.at == "far" else mate or 0) & 1 and here is not None:
                there = " and ".join(known.evidence.names(other_place(stage.at), group))
                ends = " and ".join(known.evidence.names(stage.at, stage.component(here)))
                box, away = known.bundle.box(stage.at), known.bundle.box(other_place(stage.at))
                yield (
                    f"Checked: with {there} twisted together in {away}, {ends} read closed in"
                    f" {box}."
                )
