# SPDX-License-Identifier: MIT
"""The methods of ringing a pull out, side by side on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.cli.output import console, counted, facts, heading, indented, say, table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

NARROW = 66  # columns; below, a method is told line by line


def show_plan(found: Mapping[str, Any]) -> None:
    """Write what each method takes and needs, and why."""
    heading(found["pull"], f"{found['near']} → {found['far']}", f"{found['conductors']} conductors")
    if console().width < NARROW:
        for method in found["methods"]:
            _show_method(method)
    else:
        _show_table(found["methods"])
    say(
        f"No plan can do with fewer than {_touch_count(found['bound'])} on average: log2 of the"
        " number of arrangements. Touches for contacts search for conductors touching each other."
    )
    for note in found["notes"]:
        say(note)


def _show_table(methods: Sequence[Mapping[str, Any]]) -> None:
    columns: tuple[str, ...] = ("method", "walks", "joins", "touches", "at most", "for contacts")
    rows: list[tuple[object, ...]] = [
        (m["method"], m["walks"], m["joins"], *_touches(m)) for m in methods
    ]
    if not all(m["identifies_all"] for m in methods):
        columns = (*columns, "unknown")
        rows = [(*row, _unknown(m)) for row, m in zip(rows, methods, strict=True)]
    table(columns, rows)
    facts((m["method"], f"{_sentence(m['needs'])} {m['why']}") for m in methods)


def _show_method(method: Mapping[str, Any]) -> None:
    expected, worst, contacts = _touches(method)
    say(method["method"], style="bold")
    unknown = _unknown(method)
    indented(
        f"{counted(method['walks'], 'walk')}, {counted(method['joins'], 'join')},"
        f" {expected} touches, at most {worst}, {contacts} of them for contacts"
        + (f"; {unknown} stay unknown" if unknown != "none" else ""),
        f"{_sentence(method['needs'])} {method['why']}",
    )


def _touches(method: Mapping[str, Any]) -> tuple[str, str, str]:
    """Return the touches on the mean, at most, and for contacts; ``~`` where they are scaled."""
    mark = "~" if method["about"] else ""
    return (
        f"{mark}{method['touches_expected']:g}",
        f"{mark}{method['touches_worst']}",
        f"{mark}{method['touches_for_contacts']:g}",
    )


def _unknown(method: Mapping[str, Any]) -> str:
    return "none" if method["identifies_all"] else "some"


def _touch_count(bound: float) -> str:
    return counted(1 if bound == 1 else f"{bound:g}", "touch")


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
