# SPDX-License-Identifier: MIT
"""How much is drawn at random: a tenth or so always, a quarter of the rest with ``-m full``.

All of it is drawn with ``WIRETRACK_HOURS=1`` beside that, by hand.
"""

from __future__ import annotations

import inspect
import os
from collections.abc import Callable, Iterable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

HOURS = os.environ.get("WIRETRACK_HOURS") == "1"


def full(*values: Any) -> Any:
    """Return the values of a parameter for which a test is run under the mark `full` alone."""
    return pytest.param(*values, marks=pytest.mark.full)


def _all(always: int, count: int) -> int:
    """Return how many are drawn in all: without hours to spend, a quarter of the others."""
    return count if HOURS else always + (count - always) // 4


def tenth(count: int) -> list[Any]:
    """Return so many seeds, or a third of them; the first tenth is drawn always."""
    first = count // 10
    return [*range(first), *(full(seed) for seed in range(first, _all(first, count)))]


def parts(always: int, count: int, most: int) -> list[Any]:
    """Return ranges of at most `most` of so many seeds; the first ones, so many, are drawn always.

    All of them together are each seed once; without hours to spend, a quarter of the others.
    """
    count = _all(always, count)
    first = [range(at, min(at + most, always)) for at in range(0, always, most)]
    return [*first, *(full(range(at, min(at + most, count))) for at in range(always, count, most))]


Test = Callable[..., None]


def each(cases: Iterable[Any] | Callable[[], Iterable[Any]]) -> Callable[[Test], Test]:
    """Give a test its cases one after the other, all in one, and tell all that fail.

    For many cases of a cheap check: hundreds of tests would cost more than what they do. Where a
    test has several arguments, a case is a tuple of them. A function is called when the test runs.
    """
    listed = cases if callable(cases) else list(cases)

    def decorate(holds: Test) -> Test:
        several = len(inspect.signature(holds).parameters) > 1

        def test() -> None:
            tried = list(listed()) if callable(listed) else listed
            failed = []
            for case in tried:
                try:
                    holds(*case) if several else holds(case)
                except (AssertionError, pytest.fail.Exception) as fault:
                    failed.append(f"{case}: {fault}")
            assert tried, "there is no case"
            assert not failed, "\n".join(failed)

        test.__name__, test.__qualname__ = holds.__name__, holds.__qualname__
        test.__module__, test.__doc__ = holds.__module__, holds.__doc__
        return test

    return decorate


def drawn(
    always: int, all_of: int, *values: Any, derandomize: bool = False
) -> Callable[[Test], Test]:
    """Give a test its last arguments as hypothesis draws them, so many times; fixtures come first.

    Fixtures last over all that is drawn. Without hours to spend, a quarter of the others is drawn.
    """

    def decorate(holds: Test) -> Test:
        fixtures = list(inspect.signature(holds).parameters)[: -len(values)]

        def test(examples: int, request: pytest.FixtureRequest) -> None:
            fixed = {name: request.getfixturevalue(name) for name in fixtures}
            bounds = settings(
                max_examples=examples,
                deadline=None,
                derandomize=derandomize,
                suppress_health_check=list(HealthCheck),
            )
            draw: Any = given(*values)
            bounds(draw(holds))(**fixed)

        test.__name__, test.__qualname__ = holds.__name__, holds.__qualname__
        test.__module__, test.__doc__ = holds.__module__, holds.__doc__
        more = full(_all(always, all_of))
        twice: Test = pytest.mark.parametrize("examples", [always, more])(test)
        return twice

    return decorate
