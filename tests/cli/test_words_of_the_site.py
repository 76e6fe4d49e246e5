# SPDX-License-Identifier: MIT
"""What people read begins with the site's own unit and is in the words of its rules."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2
from wiretrack.cli.group import run
from wiretrack.manner import Manner, use, words

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

MURRAY = ("--murray", "668:332", "--temp", "18 C")


def test_a_site_in_feet_under_the_nec_reads_feet_and_ground(
    mill_db: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # 115 ft is 35.0 m: 1 ft is 0.3048 m.
    for asked in (["fault", "QF1-895O", "--good", "0AZ-EMTB", *MURRAY], ["check"], ["show", "MDP"],
                  ["show", "SLUICE"], ["show", "QF1-895O"]):  # fmt: skip
        assert run(["--db", str(mill_db), *asked]) in (0, 1)
        shown = " ".join(capsys.readouterr().out.split())
        assert not re.search(r"(?<!-)\bearth(ed|ing|s)?\b(?!-size)|[0-9] m \(|mm2", shown), asked
        if asked[0] == "fault":
            assert shown.startswith("grounded 115 ft (35 m) from MDP")
        if asked == ["check"]:
            assert "10 AWG (5.26 mm²), limit 8 AWG (8.37 mm²)" in shown


def test_a_site_in_metres_under_iec_reads_metres_and_earth(wiretrack: Wiretrack) -> None:
    # Murray: 2 * 67 m * 332 / 1000 = 44.5 m.
    shown = wiretrack("fault", L1, "--good", L2, *MURRAY).words
    assert shown.startswith("earthed 44.5 m (146 ft) from MDB")


@pytest.mark.parametrize(
    ("rules", "told"),
    # NEC article 100: ground, grounded, equipment grounding conductor.
    [("NEC", "A ground fault: equipment grounding conductors are grounded; 'an earth rod' stays."),
     ("IEC", "An earth fault: protective conductors are earthed; 'an earth rod' stays.")],
)  # fmt: skip
def test_a_word_has_one_pair_and_what_is_quoted_stays(rules: str, told: str) -> None:
    use(Manner(rules=rules))
    text = "An earth fault: protective conductors are earthed; 'an earth rod' stays."
    assert words(text) == told


def test_what_is_set_and_its_history_are_in_the_unit_of_the_site(
    mill_db: Path, wiretrack: Wiretrack
) -> None:
    """9.144 m are 30 ft, and 7.9248 m are 26 ft; a script reads what the file has."""
    told = wiretrack("--db", mill_db, "set", "W1", "length=9.144 m", "walls=3 ft, 12.5 ft")
    assert re.search(r"length +26 ft +30 ft", told.out)
    assert re.search(r"walls +– +3 ft, 12.5 ft", told.out)
    assert "W1: length 26 ft → 30 ft" in wiretrack("--db", mill_db, "history", "W1").words
    changed = wiretrack("--db", mill_db, "history", "W1", "--json").json[0]["fields"]
    assert changed["length"] == ["7.9248 m", "9.144 m"]
    wiretrack("set", "W1", "length=30 ft")
    assert "→ 9.144 m" in wiretrack("history", "W1").words  # this site is in metres


def test_a_symptom_and_a_test_are_told_in_the_words_of_the_rules(mill_db: Path) -> None:
    """NEC article 100 has ground-fault and grounding electrode."""
    from wiretrack.store.store import open_registry
    from wiretrack.tasks.test.plan import owed_tests
    from wiretrack.tasks.trouble.searching import start

    with open_registry(mill_db) as registry:
        use(registry.manner())
        assert any("to ground" in test.why for test in owed_tests(registry, "SLUICE"))
        assert "ground-fault alarm" in start(registry, "insulation-alarm", "QF1-895O").title
    assert words("An earth electrode, a protective conductor, an earthing conductor.") == (
        "A grounding electrode, an equipment grounding conductor, an equipment grounding conductor."
    )
