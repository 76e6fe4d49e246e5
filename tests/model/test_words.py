# SPDX-License-Identifier: MIT
"""Allowed words are read as people say them, and asked about where they may mean several."""

from __future__ import annotations

import pytest

from wiretrack.errors import AmbiguousError
from wiretrack.exchange.cells import as_filed
from wiretrack.model import kinds as k
from wiretrack.model import words
from wiretrack.model.fields import Kind, flat_facts
from wiretrack.model.source import TABLES

CHOICES = {f.kind: f.kind.words for of in TABLES for f in flat_facts(of) if f.kind.words}
# What electricians say beside the word of the file; expected from the trade, not from the table.
SAID = [
    (k.ENCLOSURE_KIND, "panel", "panelboard"), (k.ENCLOSURE_KIND, "Box", "junction-box"),
    (k.ENCLOSURE_KIND, "junction box", "junction-box"), (k.ENCLOSURE_KIND, "JB", "junction-box"),
    (k.ENCLOSURE_KIND, "trough", "wireway"), (k.ENCLOSURE_KIND, "isolator", "disconnect"),
    (k.DEVICE_KIND, "circuit breaker", "breaker"), (k.DEVICE_KIND, "MCB", "breaker"),
    (k.DEVICE_KIND, "busbar", "bus"), (k.RACEWAY_TYPE, "emt", "EMT"),
    (k.RACEWAY_TYPE, "pvc schedule 40", "PVC-40"), (k.RACEWAY_TYPE, "rigid", "RMC"),
    (k.SYSTEM, "three-phase", "ac-3ph"), (k.SYSTEM, "single phase", "ac-1ph"),
    (k.FUNCTION, "neutral", "N"), (k.FUNCTION, "+", "L+"), (k.FUNCTION, "-", "L-"),
    (k.METAL, "copper", "Cu"), (k.METAL, "aluminum", "Al"), (k.RULE_SET, "nec", "NEC"),
    (k.EDITION, "2023", 2023), (k.INSTRUMENT_KIND, "insulation tester", "insulation-tester"),
]  # fmt: skip
SEVERAL = [
    (k.RACEWAY_TYPE, "PVC", ("PVC-40", "PVC-80")),
    (k.RACEWAY_TYPE, "conduit", ("EMT", "IMC", "RMC")),
    (k.SYSTEM, "AC", ("ac-1ph", "ac-3ph")),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "said", "word"), SAID)
def test_a_word_of_the_trade_is_read_as_the_file_has_it(kind: Kind, said: str, word: str) -> None:
    assert kind.meant(said) == word
    assert as_filed(kind, said) == word


@pytest.mark.parametrize(("kind", "said", "meant"), SEVERAL)
def test_a_word_that_may_mean_several_names_them(
    kind: Kind, said: str, meant: tuple[str, ...]
) -> None:
    with pytest.raises(AmbiguousError) as caught:
        kind.meant(said)
    assert caught.value.choices == meant


@pytest.mark.parametrize("kind", CHOICES)
def test_each_allowed_word_means_itself_in_any_case(kind: Kind) -> None:
    for word in CHOICES[kind]:
        assert kind.meant(str(word)) == word
        assert kind.meant(f" {str(word).upper()} ") == word


@pytest.mark.parametrize("said", ["", "barrel", "pan", "junction", "boxes", "l", "-x"])
def test_a_word_of_nothing_stays_as_it_is(said: str) -> None:
    assert k.ENCLOSURE_KIND.meant(said) == said
    assert k.FUNCTION.meant(said) == said


def test_each_word_that_is_read_beside_belongs_to_an_allowed_one() -> None:
    allowed = {str(word) for kind in CHOICES for word in kind.words} | {*words.LENGTH_UNITS}
    assert words.also().keys() <= allowed
    for kind, own in CHOICES.items():
        for word in own:
            for said in words.also().get(word, ()):
                assert said.casefold() not in {str(each).casefold() for each in own}, (kind, said)


def test_days_are_filed_as_iso_and_what_is_filed_so_stays() -> None:
    assert as_filed(k.DATE, "24.4.2025") == "2025-04-24"
    assert as_filed(k.DAY_OR_TIME, "24 Apr 2025") == "2025-04-24"
    assert as_filed(k.TIME, "24.4.2025 10:15")[:16] == "2025-04-24T10:15"
    exact = "2025-04-24T10:15:00.123+02:00"
    assert as_filed(k.TIME, exact) == as_filed(k.DAY_OR_TIME, exact) == exact
    assert as_filed(k.DATE, "soon") == "soon"
    with pytest.raises(AmbiguousError):
        as_filed(k.DATE, "4/5/2025")
