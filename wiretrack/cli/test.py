# SPDX-License-Identifier: MIT
"""``test``, ``trend`` and ``string``: which readings are owed, storing one, what they tell."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.asking import can_ask
from wiretrack.cli.command import Command, Group
from wiretrack.cli.options import (
    Answer,
    a_screen,
    answers,
    field_options,
    force_option,
    nothing,
    warn,
)
from wiretrack.cli.output import (
    OUTCOME_STYLES,
    cautions,
    console,
    facts,
    heading,
    indented,
    picture,
    resistance,
    say,
    table,
    volts,
    with_drawing,
)
from wiretrack.days import day
from wiretrack.errors import BadInputError
from wiretrack.files import write_file
from wiretrack.model.reading import Reading
from wiretrack.readings import BY_NAME, TRENDED, kind_of

if TYPE_CHECKING:
    from wiretrack.library import OpenSite
    from wiretrack.readings.trending import ConductorTrend, Series
    from wiretrack.tasks.report.standing import NextStep
    from wiretrack.tasks.test.expecting import StringVoltage
    from wiretrack.tasks.test.plan import OwedTest
    from wiretrack.tasks.test.testing import Logged


@click.group(cls=Group)
def test() -> None:
    """Plan and log continuity, insulation and polarity tests."""


@test.command()
@click.argument("circuit")
@answers
@a_screen
def plan(site: OpenSite, circuit: str) -> Answer:
    """List the readings still due on CIRCUIT, in working order."""
    from wiretrack.tasks.test.plan import owed_tests

    steps = owed_tests(site.registry, circuit)
    return Answer(
        steps, lambda: _show_plan(site, circuit, steps), then=lambda: _first(site, circuit, steps)
    )


def _first(site: OpenSite, circuit: str, steps: list[OwedTest]) -> NextStep:
    from wiretrack.tasks.report.standing import NextStep

    return NextStep("test", (circuit,)) if steps else _after(site, circuit)


def _show_plan(site: OpenSite, circuit: str, steps: list[OwedTest]) -> None:
    from wiretrack.electrical.cautions import once
    from wiretrack.tasks.test.cautions import cautions_for

    if not steps:
        say(f"{circuit} has no test due.")
        return
    kinds = dict.fromkeys(step.kind for step in steps)
    cautions(once(c for k in kinds for c in cautions_for(site.registry, k, circuit)))
    table(
        ("", "test", "of", "against", "volts", "by"),
        ((n, s.kind, s.subject, s.against, _volts(s), s.source) for n, s in enumerate(steps, 1)),
    )


@test.command()
@click.argument("circuit")
@answers
def run(site: OpenSite, circuit: str) -> Answer:
    """Lead through the readings due on CIRCUIT, one at a time; stop and go on at any time.

    It asks on a terminal. A script takes the list from "test plan" and stores with "test log".
    """
    from wiretrack.cli.test_run import run_tests
    from wiretrack.store.searching import resolve

    code = resolve(site.registry, circuit, ("circuit",)).code
    if not can_ask():
        raise BadInputError(
            "test run needs a terminal, to ask on. Elsewhere use: wiretrack test log"
        )
    return Answer(None, lambda: run_tests(site, code), then=lambda: _after(site, code))


def _after(site: OpenSite, what: str) -> NextStep:
    """Return what to do after a reading of something."""
    from wiretrack.tasks.report.standing import after_reading

    return after_reading(site.registry, what)


@test.command(name="cautions")
@click.argument("what")
@answers
def show_cautions(site: OpenSite, what: str) -> Answer:
    """Say all that is to be read before WHAT, a tag or a circuit, is measured, by kind."""
    from wiretrack.tasks.test.cautions import cautions_for

    found = {kind: cautions_for(site.registry, kind, what) for kind in BY_NAME}

    def text() -> None:
        for kind, lines in found.items():
            heading(kind)
            indented(*lines)

    return Answer(found, text, then=lambda: _after(site, what))


def _volts(step: OwedTest) -> str | None:
    """Return the volts to test with, or those that a voltmeter should show."""
    expected = step.expected
    if step.test_voltage or not expected:
        return volts(step.test_voltage)
    if expected.low_v is None:
        return "state the supply"
    return f"{expected.low_v:.4g} to {expected.high_v:.4g} V"


@test.command()
@click.argument("subject")
@click.option("--kind", required=True, type=click.Choice([*BY_NAME]), help="What was read.")
@click.argument("value")
@click.option("--at", help="When it was taken; now if left out.")
@click.option("--against", metavar="TAG|raceway|PE", help="What it was read against.")
@field_options(
    Reading, "instrument", "leads", "temp", "cell_temp", "test_voltage", "after", "by", "note"
)
@click.option(
    "--supersedes",
    metavar="last|NUMBER|ID",
    help="The wrong reading that this one replaces: the last one, or as show numbers it.",
)
@click.option("--quiet", is_flag=True, help="No cautions and no advice, for scripts.")
@answers
def log(site: OpenSite, /, quiet: bool, **fields: Any) -> Answer:
    """Store a reading of SUBJECT and print its verdict.

    SUBJECT is a tag; of a kind that is read of other things, BOX/DEVICE or a circuit's code.
    VALUE takes prefixes and a unit: 0.42, 420m, 1.2k, >2000M, OL, -412V. The exit status is 1 if
    the reading fails.
    """
    from wiretrack.tasks.test.testing import ReadingText, log_reading

    if not quiet and can_ask():
        fields |= _asked(site, fields)
    who = fields["by"] or site.who
    found = log_reading(site.registry, ReadingText(**fields), who=who)
    failed = found.verdict.outcome == "fail"
    if quiet:
        return Answer(found, lambda: _show_verdict(found), int(failed), nothing)

    def text() -> None:
        brief = kind_of(fields["kind"]).caution
        warn(site, brief, found.cautions, f"wiretrack test cautions {found.shown}")
        _show_verdict(found)

    return Answer(found, text, int(failed), lambda: _after(site, found.shown))


def _asked(site: OpenSite, fields: dict[str, Any]) -> dict[str, str | None]:
    """Ask what such a reading states and nobody said."""
    from wiretrack.cli.test_run import ask_stated
    from wiretrack.tasks.test.testing import subject_named
    from wiretrack.tasks.test.visit import Visit, stated_of

    kind = fields["kind"]
    thing = subject_named(site.registry, kind, fields["subject"])
    names = [n for n in stated_of(site.registry, kind, thing) if fields[n] is None]
    once = click.get_current_context().meta  # which meaning of a word is asked about afterwards
    if _STATED not in once:
        once[_STATED] = ask_stated(site, Visit.today(site.registry), kind, names)
    said: dict[str, str | None] = once[_STATED]
    return said


_STATED = f"{__name__}.stated"


def _show_verdict(found: Logged) -> None:
    verdict = found.verdict
    say(f"{verdict.outcome.upper()}: {verdict.reason}", style=OUTCOME_STYLES[verdict.outcome])
    say(f"Limit from {verdict.source}", style="dim")
    say(
        f"Stored as {found.id[:8]}. To correct it, log it again with --supersedes last", style="dim"
    )


@click.command(cls=Command)
@click.argument("tag")
@click.option("--kind", type=click.Choice(TRENDED), help="Only this.")
@click.option("--svg", type=click.Path(path_type=Path), help="Draw the first series into a file.")
@force_option
@answers
def trend(site: OpenSite, tag: str, kind: str | None, svg: Path | None) -> Answer:
    """Follow the readings of TAG over the years: at 20 °C, with slope, limit and outliers."""
    from wiretrack.render.trend import plot_svg
    from wiretrack.tasks.test import plan as task

    found = task.trend(site.registry, tag, kind)
    if svg:
        write_file(svg, [plot_svg(found)])
    then = ("show", str(found.tag))
    return Answer(with_drawing(found, svg), lambda: _show_trend(found, svg), then=then)


def _show_trend(found: ConductorTrend, svg: Path | None) -> None:
    heading(found.tag, found.circuit, found.function)
    for series in found.series:
        _show_series(series)
    if svg:
        say(f"Drawn in {svg}.")


def _show_series(series: Series) -> None:
    from wiretrack.electrical.quantity_text import shown
    from wiretrack.render.trend import MARKS, key_of, mark_of, plot_lines

    heading(series.title, "at 20 °C")
    picture(plot_lines(series, console().width))
    say(key_of(series))
    table(
        ("", "date", "as read", "at 20 °C", "how"),
        (
            (MARKS[mark_of(p)], day(p.at), shown(p.as_read), resistance(p.ohms), p.note)
            for p in series.points
        ),
    )
    facts(
        [
            ("slope", series.words),
            ("limit", resistance(series.limit)),
            ("meets it", series.meets_limit_on),
            ("earliest", series.earliest),
            ("by", series.source),
        ]
    )


@click.command(cls=Command)
@click.argument("circuit")
@click.option("--reading", metavar="VOLTS", help="L+ against L-, open circuit, with its sign.")
@click.option("--cell-temp", metavar="C", help="At the back of a module.")
@click.option(
    "--irradiance", metavar="W/m2", help="In the modules' plane; 400 to 1000 if left out."
)
@click.option(
    "--beside", metavar="CIRCUIT=VOLTS", multiple=True, help="A like string, read just now."
)
@click.option("--instrument", help="Code of the meter, for its accuracy.")
@answers
def string(site: OpenSite, /, circuit: str, **asked: Any) -> Answer:
    """Say what the string of CIRCUIT should read, and what --reading says of its modules.

    The exit status is 1 if the reading doesn't fit the string as it is recorded.
    """
    from wiretrack.tasks.test.expecting import StringMeasured, string_voltage

    found = string_voltage(site.registry, circuit, StringMeasured(**asked))
    then = ("log", circuit)
    return Answer(found, lambda: _show_string(found), int(found.fits is False), then)


def _show_string(found: StringVoltage) -> None:
    modules = found.modules
    cautions(found.cautions)
    heading(found.circuit, f"{modules.series} modules of {modules.voc_v:g} V in series")
    facts(
        [
            ("at STC", f"{found.stc_v:.1f} V"),
            ("expected", _expected(found)),
            ("read", volts(found.reading_v)),
        ]
    )
    if found.reversed:
        say("The sign is wrong: L+ and L- are exchanged, or the leads were.", style="bold red")
    if found.explanations:
        fitting = [row for row in found.explanations if row.fits]
        say("It fits:" if fitting else "It fits nothing known here; the nearest are:")
        rows = fitting or found.explanations[:3]
        table(("", "would read"), ((row.what, f"{row.volts:.1f} V") for row in rows))
        if len(fitting) > 1:
            say("To tell them apart, read a like string at the same moment: --beside CIRCUIT=VOLTS")
    say(f"By: {found.source}", style="dim")


def _expected(found: StringVoltage) -> str | None:
    if found.expected_v is None:
        return None
    width = "" if found.uncertainty_v is None else f" ± {found.uncertainty_v:.1f} V"
    where = "" if found.cell_c is None else f" with cells at {found.cell_c:g} °C"
    return f"{found.expected_v:.1f} V{width}{where}"
