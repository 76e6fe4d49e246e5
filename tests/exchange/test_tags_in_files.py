# SPDX-License-Identifier: MIT
"""Check characters of tags in files, with python-stdnum as the judge."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from wiretrack.model.tags import ALPHABET, CHECK_ALPHABET

if TYPE_CHECKING:
    from tests.exchange.conftest import Faults


@settings(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(body=st.text(ALPHABET, min_size=6, max_size=6), check=st.sampled_from(CHECK_ALPHABET))
def test_a_tag_is_taken_only_with_the_check_character_of_iso_7064(
    site: dict[str, Any], faults: Faults, body: str, check: str
) -> None:
    site["readings"][0] |= {"subject": body + check, "value": "x"}
    wrong = [fault for fault in faults(site) if "the check character is wrong" in fault]
    assert bool(wrong) != mod_37_36.is_valid(body + check)


@pytest.mark.parametrize("at", range(7))
def test_a_single_wrong_character_leads_back_to_the_tag_that_was_meant(
    site: dict[str, Any], faults: Faults, at: int
) -> None:
    meant = "QRST56" + mod_37_36.calc_check_digit("QRST56")
    slipped = meant[:at] + ("3" if meant[at] != "3" else "4") + meant[at + 1 :]
    assert not mod_37_36.is_valid(slipped)
    site["conductors"][0]["tag"] = meant
    site["readings"][0]["subject"] = slipped
    assert faults(site) == [
        f"readings[0].subject: '{slipped}' is not a tag: the check character is wrong. Did you mean"
        f" {meant[:3]}-{meant[3:]}?"
    ]


def test_a_wrong_tag_of_a_conductor_is_named_once(site: dict[str, Any], faults: Faults) -> None:
    site["conductors"][0]["tag"] = "PVM-P01X"
    assert faults(site) == [
        "conductors[0].tag: 'PVM-P01X' is not a tag: the check character is wrong. Did you mean"
        " PVM-P01P?",
        "readings[0].subject: No conductor is tagged PVM-P01P in the file or the registry. Add the"
        " conductor, or correct the tag.",
    ]
