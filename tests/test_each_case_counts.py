# SPDX-License-Identifier: MIT
"""Where many cases are one test, one that fails is told, and so is that there is none."""

from __future__ import annotations

import pytest

from tests.drawing import HOURS, each, parts


def test_all_that_fail_are_told_and_no_other() -> None:
    tried = []

    @each([(1, 1), (1, 2), (2, 2), (3, 2)])
    def same(one: int, two: int) -> None:
        tried.append((one, two))
        assert one == two

    with pytest.raises(AssertionError) as caught:
        same()
    assert tried == [(1, 1), (1, 2), (2, 2), (3, 2)]
    assert [line for line in str(caught.value).splitlines() if line.startswith("(")] == [
        "(1, 2): assert 1 == 2", "(3, 2): assert 3 == 2",
    ]  # fmt: skip


@pytest.mark.parametrize("cases", [[], list])
def test_no_case_is_no_pass(cases: object) -> None:
    with pytest.raises(AssertionError, match="there is no case"):
        each(cases)(lambda _: None)()  # type: ignore[arg-type]


def test_parts_are_each_seed_once() -> None:
    always = [one for one in parts(500, 10_000, 950) if isinstance(one, range)]
    drawn = [one if isinstance(one, range) else one.values[0] for one in parts(500, 10_000, 950)]
    most = 10_000 if HOURS else 2_875
    assert [seed for one in drawn for seed in one] == list(range(most))
    assert [seed for one in always for seed in one] == list(range(500))
