# SPDX-License-Identifier: MIT
"""The decision rule of JCGM 106: pass and fail lie a guard band away from the limit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.electrical.accuracy import at_least, at_most, guard_of
from wiretrack.encoding import document
from wiretrack.model.entity import Verdict


def test_the_acceptance_limit_is_the_limit_less_the_guard_band() -> None:
    # JCGM 106:2012, 8.3.2.2: w = rU with r = 1 and U = 2u, so A = T - 2u.
    guard = guard_of(0.5, 0.01, 0.3, "")
    assert guard.accept == pytest.approx(0.02)
    assert at_most(0.979, 1.0, guard) == "pass"
    assert at_most(0.981, 1.0, guard) == "doubt"
    assert at_most(1.019, 1.0, guard) == "doubt"
    assert at_most(1.021, 1.0, guard) == "fail"
    assert at_least(1.021, 1.0, guard) == "pass"
    assert at_least(1.019, 1.0, guard) == "doubt"
    assert at_least(0.979, 1.0, guard) == "fail"
    assert "guard band 0.02 Ω (JCGM 106:2012)" in guard.why


def test_an_unknown_instrument_passes_only_if_the_worst_tester_would() -> None:
    # IEC 61557-2: at most 30 % off in use.
    guard = guard_of(1.2e6, None, 0.3, "IEC 61557-2")
    assert at_least(1.2e6, 1e6, guard) == "doubt"
    wide = guard_of(1.5e6, None, 0.3, "IEC 61557-2")
    assert at_least(1.5e6, 1e6, wide) == "pass"
    assert at_least(0.9e6, 1e6, guard_of(0.9e6, None, 0.3, "")) == "fail"


@given(
    figure=st.floats(0, 100), limit=st.floats(0.1, 100), u=st.floats(0, 10),
)  # fmt: skip
def test_no_pass_lies_beyond_the_limit_and_no_fail_within(
    figure: float, limit: float, u: float
) -> None:
    guard = guard_of(figure, u, 0.3, "")
    high, low = at_most(figure, limit, guard), at_least(figure, limit, guard)
    assert not (high == "pass" and figure > limit)
    assert not (high == "fail" and figure <= limit)
    assert not (low == "pass" and figure < limit)
    assert not (low == "fail" and figure >= limit)


def test_the_document_of_a_verdict_has_the_promised_keys() -> None:
    told = document(Verdict("doubt", None, "ohm", "a source", "a reason", missing=("length",)))
    assert {"outcome", "limit", "unit", "source", "reason"} <= set(told)
    assert told["missing"] == ["length"]
