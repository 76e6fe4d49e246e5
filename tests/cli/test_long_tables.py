# SPDX-License-Identifier: MIT
"""A long list is written as it comes, and looks as a short one does."""

from __future__ import annotations

import pytest

from wiretrack.cli import output

COLUMNS = ("tag", "circuit", "why")
ROWS = [("PMP-001G", "PUMP", "its insulation wasn't measured since it was landed again"),
        ("BAR-N010", "LIGHT", None)]  # fmt: skip


def written(capsys: pytest.CaptureFixture[str], count: int) -> list[str]:
    output.table(COLUMNS, (ROWS[n % 2] for n in range(count)))
    return capsys.readouterr().out.splitlines()


@pytest.mark.parametrize("width", [40, 80, 200])
def test_a_long_table_has_the_lines_of_a_short_one(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    short = written(capsys, 2)
    monkeypatch.setattr(output, "LONG", 2)
    long = written(capsys, 6)
    assert [line.split() for line in long[: len(short)]] == [line.split() for line in short]
    assert len(long) == 1 + 3 * (len(short) - 1)
    assert max(map(len, long)) <= width
    assert not any(line.endswith(" ") for line in long)


def test_rows_are_asked_for_one_by_one(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(output, "LONG", 2)
    seen = []

    def rows() -> object:
        for n in range(5):
            seen.append(capsys.readouterr().out.count("row"))
            yield (f"row {n}",)

    output.table(("name",), rows())  # type: ignore[arg-type]
    assert seen == [0, 0, 2, 1, 1]


def test_a_terminal_shows_the_first_rows_and_says_how_many_more_there_are(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(output, "LONG", 2)
    monkeypatch.setenv("FORCE_COLOR", "1")
    shown = "\n".join(written(capsys, 5))
    assert shown.count("PUMP") == 1
    assert "and 3 more" in shown
