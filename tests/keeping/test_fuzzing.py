# SPDX-License-Identifier: MIT
"""What was found once by fuzzing, and a few spoilt examples: every reader answers or refuses."""

from __future__ import annotations

import random

import pytest

from tests.keeping import fuzzing


@pytest.mark.parametrize("name", fuzzing.READERS)
def test_a_reader_answers_or_refuses_what_is_spoilt(name: str) -> None:
    seeds, chance = fuzzing.examples(name), random.Random(name)
    found = [file.read_bytes() for file in sorted(fuzzing.FINDINGS.glob(f"{name}-*"))]
    for data in (*found, *seeds[:2], *(fuzzing.spoilt(chance, seeds) for _ in range(4))):
        assert fuzzing.wrong_with(fuzzing.READERS[name], data) == ""


def test_a_fault_would_be_seen() -> None:
    assert "ZeroDivisionError" in fuzzing.wrong_with(lambda data: 1 // len(data), b"")
