# SPDX-License-Identifier: MIT
"""``wiretrack check``: the wiring rules, with figures, limits and sources."""

from __future__ import annotations

from itertools import groupby
from typing import Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import OUTCOME_STYLES, heading, indented, print_json, say, table

EXIT_FAILED = 1
_ORDER = ("fail", "doubt", "pass")


@click.command("check")
@click.argument("what", required=False)
@click.option("--all", "show_all", is_flag=True, help="Show what passes too.")
@json_option
@click.pass_context
def command(ctx: click.Context, what: str | None, show_all: bool, as_json: bool) -> None:
    """Check WHAT (all of the site if left out) against the rules of the site's code.

    The exit status is 1 if a rule is broken. The local code and a licensed electrician decide.
    """
    from wiretrack.tasks.report.checking import check

    with opened(ctx.obj) as registry:
        rows = check(registry, what)
    if as_json:
        print_json(rows)
    else:
        _show(rows, show_all)
    ctx.exit(EXIT_FAILED if any(row["outcome"] == "fail" for row in rows) else 0)


def _show(rows: list[dict[str, Any]], show_all: bool) -> None:
    rows = sorted(rows, key=lambda row: _ORDER.index(row["outcome"]))
    for outcome, group in groupby(rows, key=lambda row: row["outcome"]):
        found = list(group)
        heading(outcome, str(len(found)))
        if outcome == "pass" and not show_all:
            _show_counts(found)
            continue
        for row in found:
            say(f"{row['rule']}  {row['subject']}  {_figures(row)}", style=OUTCOME_STYLES[outcome])
            indented(row["reason"])
            indented(row["source"], style="dim")
    if not rows:
        say("No rule applies. Record the site's rules (NEC and edition, or IEC) and its wiring.")
    say("The local code and a licensed electrician decide.")


def _show_counts(rows: list[dict[str, Any]]) -> None:
    """Write how often each rule is kept, and the source of its limit."""
    by_rule: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        by_rule.setdefault(row["rule"], []).append(row)
    table(
        ("rule", "kept", "source"),
        ((rule, len(found), found[0]["source"]) for rule, found in by_rule.items()),
    )
    say("Each with its figures: wiretrack check --all", style="dim")


def _figures(row: dict[str, Any]) -> str:
    figure, limit, unit = row["figure"], row["limit"], row["unit"]
    if figure is None and limit is None:
        return ""
    shown = "–" if figure is None else f"{figure:.4g}"
    return f"{shown} {unit}, limit {limit:.4g} {unit}" if limit is not None else f"{shown} {unit}"
