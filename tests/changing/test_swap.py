# SPDX-License-Identifier: MIT
"""Two ends found crossed: the record is put right, and what rested on it is due again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.changing.barn import FREE, L1, SOCKET, N
from tests.record_of import record_of
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError, RetiredError
from wiretrack.model.entities import Conductor, Reading
from wiretrack.model.tags import format_tag
from wiretrack.store import changing, label_log, reading_log
from wiretrack.store.dumping import document
from wiretrack.store.health import problems
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.change.swapping import swap
from wiretrack.tasks.label.ends import Ends, place_labels
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.test.plan import owed_tests

if TYPE_CHECKING:
    from wiretrack.model.parts import End
    from wiretrack.store.store import Registry

AT = "2026-05-02T10:00:00+00:00"
TAG1, TAG2 = format_tag(L1), format_tag(N)


def end(registry: Registry, tag: str, side: str = "to_end") -> End:
    found: End = getattr(site_of(registry).one(Conductor, tag), side)
    return found


def test_terminals_change_places_and_end_marks_stay(barn: Registry) -> None:
    done = swap(barn, (L1, N), "D", at=AT, who="cellar")
    assert [(e.tag, e.terminal, e.mark) for e in done.ends] == [
        (TAG1, "TB1:2", "1"), (TAG2, "TB1:1", "2")]  # fmt: skip
    assert (end(barn, L1).terminal, end(barn, N).terminal) == ("TB1:2", "TB1:1")
    assert end(barn, L1, "from_end").terminal == "Q1:2"
    assert (end(barn, L1).crossed_at, end(barn, L1, "from_end").crossed_at) == (AT, None)
    assert problems(barn) == []


def test_end_marks_change_places_where_the_ring_out_took_one_for_the_other(barn: Registry) -> None:
    swap(barn, (L1, N), "D", marks=True, at=AT)
    assert [(end(barn, tag).terminal, end(barn, tag).mark) for tag in (L1, N)] == [
        ("TB1:2", "2"), ("TB1:1", "1")]  # fmt: skip


def test_ends_that_are_not_landed_yet_have_only_marks_to_exchange(barn: Registry) -> None:
    for tag in (L1, N):
        changing.land_end(barn, tag, "to", "loose")
    assert swap(barn, (L1, N), "D", at=AT).marks is True
    assert (end(barn, L1).mark, end(barn, N).mark) == ("2", "1")


def test_readings_stay_with_their_conductor_and_those_by_the_landing_are_owed_again(
    barn: Registry,
) -> None:
    before = {(s.kind, s.subject) for s in owed_tests(barn, "LIGHT")}
    assert before == set()
    done = swap(barn, (L1, N), "D", at=AT)
    stale = [(r.tag, r.kind) for r in done.stale_readings]
    assert stale == [(TAG1, "continuity"), (TAG2, "continuity"), (TAG1, "voltage")]
    owed = {(s.kind, s.subject) for s in owed_tests(barn, "LIGHT")}
    assert owed == {("continuity", TAG1), ("continuity", TAG2), ("voltage", TAG1)}
    assert {(r.what, r.subject) for r in punch_list(barn) if r.what == "test due"} >= {
        ("test due", TAG1), ("test due", TAG2)}  # fmt: skip
    marked = {r["kind"]: r["owed_again"] for r in record_of(barn, L1)["readings"]}
    assert marked == {"continuity": True, "insulation": False, "voltage": True}


def test_a_reading_taken_after_the_exchange_counts(barn: Registry) -> None:
    swap(barn, (L1, N), "D", at=AT)
    for tag in (L1, N):
        reading_log.add_reading(barn, Reading(
            kind="continuity", subject=tag, value="0.30 ohm", number=0.3, unit="ohm",
            at="2026-05-02T10:00:01+00:00", leads_ohm=0.01, temp_c=20.0,
        ))  # fmt: skip
    assert {s.kind for s in owed_tests(barn, "LIGHT")} == {"voltage"}


def test_swapping_twice_is_as_before_but_for_when_it_was_found(barn: Registry) -> None:
    before = [(end(barn, tag).terminal, end(barn, tag).mark) for tag in (L1, N)]
    swap(barn, (L1, N), "D", marks=True, at=AT)
    swap(barn, (N, L1), "D", marks=True, at=AT)
    assert [(end(barn, tag).terminal, end(barn, tag).mark) for tag in (L1, N)] == before


@pytest.mark.parametrize(
    ("tags", "box", "sentence"),
    [
        ((L1, TAG1.lower()), "D", f"{TAG1} is named twice. Name two conductors."),
        ((L1, FREE), "D", f"{format_tag(FREE)} has no end in D. See: wiretrack show"
         f" {format_tag(FREE)}"),
        ((L1, N), "C", f"{TAG1} has no end in C. See: wiretrack show {TAG1}"),
        ((L1, N), "NOWHERE", None),
        ((L1, "ABC-DEFG"), "D", None),
    ],
)  # fmt: skip
def test_what_can_not_be_crossed_is_refused_in_words_and_nothing_is_written(
    barn: Registry, tags: tuple[str, str], box: str, sentence: str | None
) -> None:
    before = document(barn)
    with pytest.raises(BadInputError) as caught:
        swap(barn, tags, box)
    assert sentence in (None, told(caught.value))
    assert document(barn) == before


def test_ends_on_one_terminal_can_not_be_crossed(barn: Registry) -> None:
    changing.land_end(barn, N, "to", "landed", "TB1:1")
    with pytest.raises(BadInputError) as caught:
        swap(barn, (L1, N), "D")
    assert told(caught.value) == (
        f"{TAG1} and {TAG2} are both on TB1:1 in D: an exchange changes nothing."
        " See: wiretrack show D"
    )


def test_a_retired_conductor_has_no_end_to_be_crossed(barn: Registry) -> None:
    retire(barn, SOCKET, abandoned=True)
    with pytest.raises(RetiredError):
        swap(barn, (L1, SOCKET), "D")


def test_labels_of_both_are_untrue_after_it(barn: Registry) -> None:
    for tag, place in ((L1, "D TB1:1"), (N, "D TB1:2")):
        legend: dict[str, Any] = {"this_place": place}
        row = {"tag": tag, "end": "to", "form": "wrap", "stock": "s", "legend": legend}
        label_log.add_prints(barn, [row])
        place_labels(barn, Ends(tag, "to"))
    done = swap(barn, (L1, N), "D", at=AT)
    due = {(r.tag, r.end): r.why for r in done.labels_due}
    assert due[TAG1, "to"] == due[TAG2, "to"] == "label no longer true"
