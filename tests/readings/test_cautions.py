# SPDX-License-Identifier: MIT
"""Cautions: what can hurt stands before every reading, and the last word is the electrician's."""

from __future__ import annotations

import pytest

from wiretrack.electrical.cautions import DEAD, LAST_WORD, around
from wiretrack.errors import BadInputError
from wiretrack.model.words import SYSTEMS
from wiretrack.readings import BY_NAME, kind_of


def cautions(kind: str, system: str | None = None, places: tuple[str, ...] = ()) -> tuple[str, ...]:
    return kind_of(kind).cautions(system, places)


@pytest.mark.parametrize("kind", BY_NAME)
@pytest.mark.parametrize("system", [*SYSTEMS, None])
def test_the_last_line_leaves_the_decision_to_code_and_electrician(
    kind: str, system: str | None
) -> None:
    lines = cautions(kind, system)
    assert lines[-1] == LAST_WORD
    assert lines.count(LAST_WORD) == 1
    assert all(len(line) <= 100 for line in lines)


@pytest.mark.parametrize("kind", ["continuity", "loop", "insulation"])
def test_dead_working_starts_with_isolating_locking_and_proving(kind: str) -> None:
    text = " ".join(cautions(kind)[:2])
    for word in ("Isolate", "lock", "Prove it dead", "proved on a known source"):
        assert word in text


def test_insulation_tests_warn_of_electronics_and_of_the_charge_left() -> None:
    text = " ".join(cautions("insulation"))
    assert "surge protection" in text
    assert "charged" in text


def test_pv_batteries_and_roofs_have_dangers_of_their_own() -> None:
    assert any("light falls" in line for line in cautions("voltage", "dc-pv"))
    assert any("battery" in line for line in cautions("voltage", "dc-battery"))
    assert any("Ladder" in line for line in cautions("continuity", None, ("roof-array",)))
    assert not any("Ladder" in line for line in cautions("continuity", None, ("panelboard",)))


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(BadInputError, match="insulation"):
        cautions("telepathy")


def test_before_a_box_is_opened_it_is_isolated_and_proved_dead() -> None:
    lines = around(DEAD, [None])
    assert "lock" in lines[0].lower()
    assert "Prove it dead" in lines[1]
    assert lines[-1] == LAST_WORD
    assert not any("light falls" in line or "Ladder" in line for line in lines)


def test_a_box_is_as_dangerous_as_the_worst_circuit_in_it() -> None:
    text = " ".join(around(DEAD, ["ac-1ph", "dc-pv", "dc-battery"], ["combiner", "array"]))
    for words in ("light falls", "battery can't be switched off", "Ladder", LAST_WORD):
        assert text.count(words) == 1
