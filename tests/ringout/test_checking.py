# SPDX-License-Identifier: MIT
"""The check at the end: what it finds that no reading contradicts, what it costs, what it says.

Slips of hands are made by the simulation, which knows nothing of the check.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import HOURS, full, parts
from tests.ringout.bundles import arranged, random_wires
from tests.ringout.hard import HardWires, rung_out
from tests.ringout.simulation import Wires, corrected, switched
from wiretrack.encoding import document
from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Join, Probe, Unjoin, Walk

if TYPE_CHECKING:
    from wiretrack.ringout.stage import Stage

BOXES = {"near": "MDB", "far": "JT1"}
ONCE_MORE = "Checking the matches once more"


def look_alikes(size: int, seed: int = 1, **options: Any) -> HardWires:
    rng = random.Random(seed)
    options.setdefault("boxes", tuple(BOXES.values()))
    bundle, mate = arranged(["BK"] * size, rng.sample(range(size), size), **options)
    return HardWires(bundle, mate, rng=rng)


def checks(ringing: Ringout) -> list[Stage]:
    return Deductions(ringing.evidence).checks


def steps(ringing: Ringout) -> list[dict[str, Any]]:
    return [document(step) for step, _ in ringing.log]


@pytest.mark.parametrize("crew", [1, 2])
@pytest.mark.parametrize("start", ["near", "far"])
@pytest.mark.parametrize("size", [3, 4, 5, 6, 8, 9, 12, 15, full(20), full(30), full(40)])
def test_a_check_is_one_join_one_walk_and_a_third_as_many_touches_as_conductors(
    size: int, start: str, crew: int
) -> None:
    plain, plain_ringing = rung_out(look_alikes(size, start=start, crew=crew))
    wires = look_alikes(size, start=start, crew=crew, check="always")
    result, ringing = rung_out(wires)
    before = len(plain_ringing.log)
    assert ringing.log[:before] == plain_ringing.log
    more = [step for step, _ in ringing.log[before:]]
    read = [answer for step, answer in ringing.log[before:] if isinstance(step, Probe)]
    touches = [answer for answer in read if document(answer) != {"ohms": "OL"}]
    assert 1 <= len(touches) <= size / 3
    assert read[: len(touches)] == touches
    # As many more where a broken wire could hide behind two ends, which must read open then.
    assert len(read) - len(touches) <= (size / 3 if crew == 1 else 0)
    assert [type(step) for step in more if not isinstance(step, Probe | Unjoin)] == (
        [Join, Walk] if crew == 1 else [Join]
    )
    assert result.walks == plain.walks + (crew == 1)
    assert [(m.near, m.far) for m in result.matches] == [(m.near, m.far) for m in plain.matches]
    assert {m.near for m in plain.matches if m.sure} <= {m.near for m in result.matches if m.sure}
    told = [m.near for m in result.matches if any("Checked: " in s for s in ringing.why(m.near))]
    assert len(told) == 2 * len(touches)
    assert all("check at the end" in m.why for m in result.matches if m.sure and m.near in told)


@pytest.mark.parametrize("seeds", parts(20, 900 if HOURS else 120, 100), ids=str)
def test_a_sound_bundle_is_rung_out_as_if_there_were_no_check(seeds: range) -> None:
    for seed in seeds:
        auto = rung_out(_hard(random_wires(seed, 2, 24)))[1]
        never = rung_out(_hard(random_wires(seed, 2, 24, check="never")))[1]
        assert auto.log == never.log, seed


def _hard(wires: Wires) -> HardWires:
    return HardWires(wires.bundle, wires.mate, rng=wires.rng)


@dataclass
class Slipped(HardWires):
    """A bundle in whose first or second joins two ends change places.

    Or, where that is the `way`, a loose end is twisted in another's place.
    """

    way: str = "exchanged"
    when: int = 0
    done: bool = False

    def _slipped(self, step: dict[str, Any]) -> dict[str, Any]:
        groups = [list(group) for group in step["groups"]]
        number, self.joined = self.joined, self.joined + (len(groups) > 1)
        if number != self.when or len(groups) < 2:
            return step
        source, other = self.rng.sample(groups, 2)
        end, there = self.rng.choice(source), self.rng.choice(other)
        held = {name for group in groups for name in group}
        loose = [name for name in self.bundle.names(step["at"]) if name not in held]
        if self.way == "exchanged":
            other[other.index(there)] = end
            there_now = there
        elif loose:
            there_now = self.rng.choice(loose)
        else:
            return step
        source[source.index(end)] = there_now
        self.done = True
        return {**step, "groups": groups}


def is_noticed(ringing: Ringout, result: Result) -> bool:
    """Return whether readings contradict, or a check doesn't confirm what was matched."""
    told = any("in the check" in m.why or "contradict" in m.why for m in result.matches)
    return told or bool(ringing.contradictions())


@pytest.mark.parametrize("when", [0, 1])
@pytest.mark.parametrize("way", ["exchanged", full("replaced")])
@pytest.mark.parametrize("seeds", parts(20, 200 if HOURS else 100, 40), ids=str)
def test_a_slip_that_nothing_contradicts_is_noticed_by_a_check(
    way: str, when: int, seeds: range
) -> None:
    """Without it a fifth to a half of them leave a match wrong, with it 3 to 10 in a hundred."""
    missed = {"never": 0, "always": 0}
    tried = 0
    for check in missed:
        tried = 0
        for seed in seeds:
            sized = random.Random(seed).randint(6, 12)
            plain = look_alikes(sized, seed, check=check)
            wires = Slipped(plain.bundle, plain.mate, rng=plain.rng, way=way, when=when)
            result, ringing = rung_out(wires)
            tried += wires.done
            wrong = [m for m in result.matches if wires.mate[m.near] != m.far]
            missed[check] += bool(wires.done and wrong and not is_noticed(ringing, result))
    assert tried >= 0.2 * len(seeds)
    assert missed["never"] > missed["always"]
    assert missed["always"] <= max(1, 0.1 * tried), (missed, tried)


@pytest.mark.parametrize("seeds", parts(20, 400 if HOURS else 100, 50), ids=str)
def test_with_a_check_one_wrong_answer_is_noticed_in_19_of_20_bundles(seeds: range) -> None:
    """Asked again, contradicted, doubted or missed by the check; and it makes no match wrong."""
    noticed = tried = 0
    for seed in seeds:
        sized = random.Random(seed).randint(3, 12)
        touches = rung_out(look_alikes(sized, seed, check="never"))[0].probes
        wires = look_alikes(sized, seed, check="always")
        wires.wrong_key = random.Random(seed).randrange(touches)
        result, ringing = rung_out(wires)
        turned = [step for step, _ in ringing.log if isinstance(step, Probe)][wires.wrong_key]
        again = sum(step == turned for step, _ in ringing.log) > 1
        doubted = any("closed, then open" in m.why for m in result.matches)
        noticed += again or doubted or is_noticed(ringing, result)
        tried += 1
        assert not [m for m in result.matches if m.sure and wires.mate[m.near] != m.far], seed
    assert noticed >= 0.95 * tried


def missed_check() -> tuple[Ringout, Result]:
    """Return a ring-out in whose check one twist wasn't made: two ends read open."""

    @dataclass
    class Off(HardWires):
        def _slipped(self, step: dict[str, Any]) -> dict[str, Any]:
            self.joined += len(step["groups"]) > 1
            if self.joined == 3:
                return {**step, "groups": step["groups"][1:]}
            return step

    plain = look_alikes(12, check="always", screen="first")
    return rung_out(Off(plain.bundle, plain.mate, rng=plain.rng))[::-1]


def test_a_check_that_is_missed_is_touched_again_and_nothing_is_sure_any_more() -> None:
    ringing, result = missed_check()
    (check,) = checks(ringing)
    open_ones = [touches for touches in check.pairs.values() if touches[-1].verdict == "open"]
    assert [len(touches) for touches in open_ones] == [4]
    assert all(len(touches) == 1 for touches in check.pairs.values() if touches not in open_ones)
    assert len(result.matches) == 12
    assert not [m.near for m in result.matches if m.sure]
    (why,) = {m.why for m in result.matches}
    assert "read open in" in why
    assert "in the check at the end" in why
    (line,) = [note for note in result.notes if note.startswith("The check at the end: ")]
    assert "Look at the twist T" in line
    assert line.endswith("in an earlier twist: ring out again.")
    (found,) = ringing.contradictions()
    assert set(found.repeat_first.between) == {
        ringing.bundle.far[end].name for end in open_ones[0][0].ends
    }


def test_a_missed_touch_that_reads_closed_at_last_or_is_corrected_confirms_again() -> None:
    ringing, _ = missed_check()
    touches = [n for n, (step, a) in enumerate(ringing.log) if document(a) == {"ohms": "OL"}]
    closed = corrected(ringing, touches[-1], {"ohms": 0.4})
    assert all(match.sure for match in closed.result().matches)
    assert not closed.contradictions()


@pytest.mark.parametrize("shown", ["OL", 2000.0])
@pytest.mark.parametrize("number", [0, 5, 12])
def test_a_check_is_led_by_itself_where_a_contact_was_poor(number: int, shown: object) -> None:
    """A touch that should read closed is open or unclear, and closed when it is made again."""
    wires = look_alikes(12)
    ringing, met = Ringout(wires.bundle), 0
    while not isinstance(step := ringing.next_step(), Result):
        answer = wires.answer(document(step))
        closed = isinstance(step, Probe) and answer != {"ohms": "OL"}
        ringing.apply(step, {"ohms": shown} if closed and met == number else answer)
        met += closed
    assert len(checks(ringing)) == 1
    assert len(checks(ringing)[0].touches) <= 12 / 3
    assert not checks(rung_out(look_alikes(12))[1])
    assert not checks(rung_out(_poor(look_alikes(12, check="never")))[1])


def _poor(wires: HardWires) -> HardWires:
    wires.bad_contact = 0.05
    return wires


def test_wires_known_to_touch_are_left_out_of_a_check() -> None:
    wires = look_alikes(12, check="always")
    wires.shorted = [("T1", "T2")]
    result, ringing = rung_out(wires)
    (check,) = checks(ringing)
    twisted = ringing.evidence.names(other_place(check.at), sum(check.groups))
    left_out = {"T1", "T2", wires.mate["T1"], wires.mate["T2"]}
    assert not left_out & {*twisted}
    assert not [m for m in result.matches if "confirmed" in m.why and m.near in ("T1", "T2")]


def test_wires_that_differ_in_colour_are_not_checked_against_each_other() -> None:
    colours = ["BK", "RD", "BU", "WH", "GN", "YE"]
    bundle, mate = arranged(colours, (2, 0, 1, 5, 4, 3), check="always")
    assert not checks(rung_out(HardWires(bundle, mate))[1])


def test_each_step_of_a_check_says_what_it_is_for() -> None:
    wires = look_alikes(9, check="always")
    ringing, told = Ringout(wires.bundle), []
    while not isinstance(step := ringing.next_step(), Result):
        guidance = ringing.guidance(BOXES)
        if guidance.phase == "verify":
            told.append((type(step), guidance.why))
        ringing.apply(step, wires.answer(document(step)))
    assert told[:2] == [
        (Join, f"{ONCE_MORE}: connect these, then touch them in JT1."),
        (Walk, f"{ONCE_MORE}: touches there show what you connected in MDB."),
    ]
    assert {why for kind, why in told[2:] if kind is Probe} == {
        f"{ONCE_MORE}: these two should read closed."
    }


def test_a_check_is_gone_on_with_and_asked_for_at_any_time() -> None:
    whole = rung_out(look_alikes(9, check="always"))[1]
    for stop in range(len(whole.log) + 1):
        again = Ringout.replayed(whole.bundle, whole.log[:stop])
        following = again.next_step()
        if stop < len(whole.log):
            assert following == whole.log[stop][0]
        assert again.can_be_checked is False
    plain = rung_out(look_alikes(9))[1]
    assert plain.can_be_checked
    asked = switched(plain, check="always")
    assert asked.next_step() == whole.log[len(plain.log)][0]
    assert not switched(whole, check="never").can_be_checked


def test_touches_of_a_check_can_be_put_off_and_left_out() -> None:
    wires = look_alikes(9, check="always")
    whole = rung_out(look_alikes(9, check="always"))[1]
    first = next(n for n, (step, _) in enumerate(whole.log) if step.place == "far" and n > 60)
    ringing, asked = Ringout.replayed(whole.bundle, whole.log[: len(whole.log) - 3]), 0
    assert first
    while not isinstance(step := ringing.next_step(), Result):
        assert isinstance(step, Probe)
        asked += 1
        ringing.apply(step, {"skip": True})
    assert asked == 2 * 3
    assert {m.near: m.far for m in step.matches} == wires.mate
    assert not any("in the check" in m.why for m in step.matches)


@pytest.mark.parametrize("seed", range(1, 7))
def test_a_check_says_which_unsure_matches_it_fits(seed: int) -> None:
    wires = look_alikes(9, seed, check="always")
    result, ringing = rung_out(wires)
    (check,) = checks(ringing)
    twisted = {*ringing.evidence.names(other_place(check.at), sum(check.groups))}
    known = {near for near, far in wires.mate.items() if {near, far} & twisted}
    unsure = [match.near for match in result.matches if not match.sure and match.near in known]
    assert unsure
    told = f"The check at the end fits what is likely: {', '.join(unsure)} read closed"
    assert [note for note in result.notes if note.startswith(told)], result.notes
