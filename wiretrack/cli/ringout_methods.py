# SPDX-License-Identifier: MIT
"""The methods of ringing a pull out, side by side on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.cli.output import console, counted, facts, heading, indented, say, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.methods import Method
    from wiretrack.tasks.identify.plan import RingoutPlan

NARROW = 66  # columns; below, a method is told line by line


def show_plan(found: RingoutPlan) -> None:
    """Write what each method takes and needs, and why."""
    heading(found.pull, f"{found.near} → {found.far}", f"{found.conductors} conductors")
    if console().width < NARROW:
        for method in found.methods:
            _show_method(method)
    else:
        _show_table(found.methods)
    say(
        f"No plan can do with fewer than {_touch_count(found.bound)} on average: log2 of the"
        " number of arrangements. Touches for contacts search for conductors touching each other."
    )
    for note in found.notes:
        say(note)


def _show_table(methods: Sequence[Method]) -> None:
    columns: tuple[str, ...] = ("method", "walks", "joins", "touches", "at most", "for contacts")
    rows: list[tuple[object, ...]] = [
        (m.name, m.forecast.walks, m.forecast.joins, *_touches(m)) for m in methods
    ]
    if not all(m.forecast.whole for m in methods):
        columns = (*columns, "unknown")
        rows = [(*row, _unknown(m)) for row, m in zip(rows, methods, strict=True)]
    table(columns, rows)
    facts((m.name, f"{_sentence(m.needs)} {m.why}") for m in methods)


def _show_method(method: Method) -> None:
    expected, worst, contacts = _touches(method)
    say(method.name, style="bold")
    unknown = _unknown(method)
    indented(
        f"{counted(method.forecast.walks, 'walk')}, {counted(method.forecast.joins, 'join')},"
        f" {expected} touches, at most {worst}, {contacts} of them for contacts"
        + (f"; {unknown} stay unknown" if unknown != "none" else ""),
        f"{_sentence(method.needs)} {method.why}",
    )


def _touches(method: Method) -> tuple[str, str, str]:
    """Return the touches on the mean, at most, and for contacts; ``~`` where they are scaled."""
    mark = "~" if method.forecast.about else ""
    return (
        f"{mark}{method.forecast.expected:g}",
        f"{mark}{method.forecast.worst}",
        f"{mark}{method.forecast.screening:g}",
    )


def _unknown(method: Method) -> str:
    return "none" if method.forecast.whole else "some"


def _touch_count(bound: float) -> str:
    return counted(1 if bound == 1 else f"{bound:g}", "touch")


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
