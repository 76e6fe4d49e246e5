# SPDX-License-Identifier: MIT
"""Which matches are called sure: never a wrong one, whatever is put into the bundle.

Hard bundles have 2 to 24 conductors, up to three faults (open, short, earthed, a short that comes
and goes, a broken conductor of which a part touches another) and one mishap of contacts, hands or
keys (`hard.py`): a share of 4,000, all with ``WIRETRACK_HOURS=1``.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest

from tests.drawing import full, parts, tenth
from tests.ringout.bundles import arranged
from tests.ringout.hard import FAULTS, HardWires, hard_wires, rung_out
from tests.ringout.many import HOURS
from tests.ringout.simulation import Wires, by_hand_s, ring_out, seconds
from wiretrack.encoding import document
from wiretrack.ringout.certainty import BY_COLOUR, BY_EXCLUSION
from wiretrack.ringout.conclusions import explain
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.screening import MOST_TOUCHES, OPEN_TOUCHES
from wiretrack.ringout.steps import Probe

if TYPE_CHECKING:
    from wiretrack.ringout.results import Match

HARD = 4_000 if HOURS else 60
SMALL = 2_000 if HOURS else 120


def wrong_but_sure(wires: Wires, result: Result) -> list[Match]:
    """Return the matches called sure that aren't so."""
    return [one for one in result.matches if one.sure and wires.mate[one.near] != one.far]


def check(wires: HardWires) -> Result:
    """Ring out; check that no wrong match is sure, and that no touch is asked for without end."""
    result, ringing = rung_out(wires)
    assert not wrong_but_sure(wires, result), wires.told
    assert all(one.why for one in result.matches)
    assert max(wires.asked.values(), default=0) <= MOST_TOUCHES, wires.told
    assert len(ringing.log) < 2_000
    return result


@pytest.mark.parametrize("seed", tenth(HARD))
def test_no_wrong_match_is_sure_in_a_hard_bundle_and_every_run_ends(seed: int) -> None:
    check(hard_wires(10_000 + seed))


@pytest.mark.parametrize("kind", FAULTS)
@pytest.mark.parametrize("seeds", parts(SMALL // 20, SMALL, 120), ids=str)
def test_no_wrong_match_is_sure_where_a_small_bundle_has_just_this_fault(
    kind: str, seeds: range
) -> None:
    """Before, one broken conductor whose stub touched another was matched wrongly in 1 of 10."""
    for seed in seeds:
        check(hard_wires(seed, most=8, faults=0, mishap="none", kinds=(kind,)))


@pytest.mark.parametrize("mishap", ["bad for good", "bunches", "bad contacts"])
@pytest.mark.parametrize("seeds", parts(SMALL // 20, SMALL, 120), ids=str)
def test_no_mishap_of_contacts_makes_a_wrong_match_sure(mishap: str, seeds: range) -> None:
    for seed in seeds:
        check(hard_wires(seed, most=12, faults=seed % 2, mishap=mishap))


def look_alikes(size: int, seed: int, **options: object) -> Wires:
    rng = random.Random(seed)
    bundle, mate = arranged(["BK"] * size, rng.sample(range(size), size), **options)
    return Wires(bundle, mate, rng=rng)


@pytest.mark.parametrize("size", [7, 10, 12, 16, full(20), full(24), full(40), full(60)])
def test_all_matches_of_a_sound_bundle_are_sure_in_less_time_than_by_hand(size: int) -> None:
    runs, taken = 10, 0.0
    for seed in range(runs):
        wires = look_alikes(size, seed)
        result = ring_out(wires)
        assert {match.near: match.far for match in result.matches} == wires.mate
        assert all(match.sure for match in result.matches)
        assert result.walks == 2
        taken += seconds(result)
    assert taken / runs <= by_hand_s(size, OPEN_TOUCHES)


@pytest.mark.parametrize("start", ["near", "far"])
@pytest.mark.parametrize("part", ["near", "far"])
@pytest.mark.parametrize("size", [3, 6, full(9)])
@pytest.mark.parametrize("seeds", parts(10, 40, 30), ids=str)
def test_where_a_broken_stub_could_hide_in_a_sound_bundle_that_is_said(
    size: int, part: str, start: str, seeds: range
) -> None:
    """The same plan on a bundle with such a stub: whatever it matches wrongly isn't sure."""
    sound = ring_out(look_alikes(size, 1, start=start))
    assert any("broken" in match.why for match in sound.matches if not match.sure)
    for seed in seeds:
        plain = look_alikes(size, seed, start=start)
        wires = HardWires(plain.bundle, plain.mate, rng=plain.rng)
        one, two = plain.rng.sample(sorted(plain.mate), 2)
        wires.broken = {one}
        ends = (one, two) if part == "near" else (plain.mate[one], plain.mate[two])
        wires.links = [((part, ends[0]), (part, ends[1]))]
        assert not wrong_but_sure(wires, rung_out(wires)[0])


@pytest.mark.parametrize("size", [5, 6, 7, 11])
def test_a_check_asked_for_makes_all_matches_of_a_sound_bundle_sure(size: int) -> None:
    """It touches the ends that a broken wire could hide behind, too, in the same walk."""
    for seed in range(4):
        plain, checked = (
            ring_out(look_alikes(size, seed, check=check)) for check in ("never", "always")
        )
        assert all(match.sure for match in checked.matches)
        assert checked.walks == plain.walks + 1
        assert checked.probes - plain.probes <= 2 * (size // 3)


@pytest.mark.parametrize("part", ["near", "far"])
@pytest.mark.parametrize("seeds", parts(20, 200, 90), ids=str)
def test_a_broken_stub_makes_no_wrong_match_sure_where_a_check_was_asked_for(
    part: str, seeds: range
) -> None:
    for seed in seeds:
        kinds = (f"broken {part} part",)
        check(hard_wires(seed, most=9, faults=0, mishap="none", kinds=kinds, check="always"))


def test_a_match_by_colours_alone_is_not_sure_and_says_so() -> None:
    bundle, mate = arranged(["BK", "RD", "BU"], (2, 0, 1))
    result = ring_out(Wires(bundle, mate))
    assert {match.near: match.far for match in result.matches} == mate
    for match in result.matches:
        assert not match.sure
        assert "colour" in match.why
        assert document(match) == {
            "near": match.near,
            "far": match.far,
            "sure": False,
            "why": match.why,
        }


def test_a_match_by_exclusion_is_not_sure_and_says_so() -> None:
    found = 0
    for seed in range(40):
        wires = look_alikes(5, seed, references=("raceway",))
        broken = wires.rng.choice(sorted(wires.mate))
        wires.broken = {broken}
        for match in ring_out(wires).matches:
            if match.near == broken:
                found += 1
                assert not match.sure
                assert match.why
    assert found


def test_a_proof_says_a_doubt_once() -> None:
    colours, mate = arranged(["BK", "RD", "BU"], (2, 0, 1))
    alone = look_alikes(5, 3, references=("raceway",))
    alone.broken = {"T2"}
    for wires, doubt in ((Wires(colours, mate), BY_COLOUR), (alone, BY_EXCLUSION)):
        ringing = Ringout(wires.bundle)
        while not isinstance(step := ringing.next_step(), Result):
            ringing.apply(step, wires.answer(document(step)))
        ends = [one.near for one in step.matches if one.why == doubt]
        assert ends
        for end in ends:
            lines = explain(ringing.evidence, end)
            assert lines[-2:] == [f"It is not sure. {doubt}", f"So {end} is end {wires.mate[end]}."]
            assert " ".join(lines).count("closed.") + " ".join(lines).count("colours") == 1


def test_where_too_much_could_hide_to_imagine_each_that_is_said_and_nothing_is_sure() -> None:
    wires = look_alikes(20, 1)
    wires.broken = {"T8", "T19"}
    result = ring_out(wires)
    assert len(result.matches) == 18
    assert not any(one.sure for one in result.matches)
    (reason,) = {one.why for one in result.matches}
    assert reason.startswith("A wire that never read closed in the far box may be broken and touch")


def with_wrong_key(wires: Wires, number: int) -> tuple[Ringout, Probe | None]:
    """Return a finished ring-out in which the answer to one touch was turned round."""
    ringing, touches, turned = Ringout(wires.bundle), 0, None
    while not isinstance(step := ringing.next_step(), Result):
        answer = wires.answer(document(step))
        if isinstance(step, Probe):
            if touches == number:
                answer = {"ohms": 0.4 if answer["ohms"] == "OL" else "OL"}
                turned = step
            touches += 1
        ringing.apply(step, answer)
    return ringing, turned


@pytest.mark.parametrize("size", [7, 10, 12])
def test_one_wrong_key_never_makes_a_sure_match_wrong(size: int) -> None:
    """Every touch in turn has the wrong key; a closed one is never left standing unnoticed."""
    number, left = 0, 0
    while True:
        wires = look_alikes(size, size)
        ringing, turned = with_wrong_key(wires, number)
        if turned is None:
            break
        result = ringing.result()
        assert not wrong_but_sure(wires, result), (number, turned)
        wrong = [one for one in result.matches if wires.mate[one.near] != one.far]
        left += bool(wrong)
        number += 1 if HOURS else 3
    assert number > size
