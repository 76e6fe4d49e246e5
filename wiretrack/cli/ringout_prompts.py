# SPDX-License-Identifier: MIT
"""A ring-out for people: one instruction at a time, one key for an answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.output import cautions, heading, indented, say, table
from wiretrack.cli.ringout import show_findings
from wiretrack.errors import BadInputError
from wiretrack.tasks.ringout_gear import diode_hints

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.ringout.steps import Step
    from wiretrack.tasks.ringing import Ringing

KEYS = "c closed · o open · or the ohms · u last touch was wrong · q stop"
DIODE_KEYS = "c current flows · o none · or the volts shown · u last touch was wrong · q stop"
COLOUR_HINT = "Colours at the far box aren't known; with --far-colours fewer steps may do."


def guide(ringing: Ringing, who: str | None) -> None:
    """Lead a person through a ring-out; whatever is answered is kept at once."""
    from wiretrack.tasks.ringing import ring_out_cautions

    cautions(ring_out_cautions())
    _introduce(ringing)
    while (step := ringing.next_step()).to_json()["step"] != "result":
        ringing = _ask(ringing, step)
    show_result(ringing.finish(who), ringing)


def show_result(result: Mapping[str, Any], ringing: Ringing) -> None:
    """Write the matches, what stayed open, and what was found on the way."""
    colours = {end.name: end.colour for end in ringing.bundle.near}
    heading(f"{ringing.record.pull} is rung out", *_effort(result))
    table(
        ("tag", f"end mark in {ringing.record.far}", "colour"),
        ((m["near"], m["far"], colours.get(m["near"])) for m in result["matches"]),
    )
    show_findings(result)
    if result["unresolved"]:
        say(f"Not identified: {', '.join(result['unresolved'])}", style="yellow")


def _effort(result: Mapping[str, Any]) -> tuple[str, ...]:
    walks, probes = result["walks"], result["probes"]
    return (f"{walks} walk{'s' if walks != 1 else ''}", f"{probes} touches")


def _introduce(ringing: Ringing) -> None:
    record, bundle = ringing.record, ringing.bundle
    heading(f"Ring-out of {record.pull}", f"{record.near} → {record.far}")
    if record.answers:
        say(f"Going on after {len(record.answers)} steps.")
        return
    say(f"{bundle.size} ends in {record.far}: put tape with a number on each:")
    table(("end mark", "colour"), ((end.name, end.colour) for end in bundle.far))
    if all(end.colour is None for end in bundle.far) and len({e.colour for e in bundle.near}) > 1:
        say(COLOUR_HINT, style="dim")


def _ask(ringing: Ringing, step: Step) -> Ringing:
    """Show a step and take its answer; return the ring-out that follows from it."""
    _show_step(ringing, step.to_json())
    is_probe = step.to_json()["step"] == "probe"
    keys = DIODE_KEYS if "plus" in step.to_json() else KEYS
    while True:
        typed = _prompt(keys if is_probe else "Enter when done · q stop", is_probe)
        if typed.lower() == "q":
            raise click.Abort
        try:
            if is_probe and typed.lower() == "u":
                return _retype_last(ringing)
            ringing.answer_typed(step, typed)
        except BadInputError as error:
            say(str(error), style="red")
        else:
            return ringing


def _retype_last(ringing: Ringing) -> Ringing:
    """Ask for the last touch's answer once more; it supersedes the one given."""
    last = ringing.last_touch()
    say(f"Again, step {last.number}: {ringing.told(last.step)}")
    return ringing.correct(last.number, _prompt("c closed · o open · or the ohms", True))


def _prompt(keys: str, needed: bool) -> str:
    default = None if needed else ""
    typed = click.prompt(keys, default=default, show_default=False, prompt_suffix=" > ")
    return str(typed).strip()


def _show_step(ringing: Ringing, step: Mapping[str, Any]) -> None:
    ends, number = ringing.colours(), ringing.steps_taken + 1
    heading(f"{number}.", ringing.told(step))
    if step["step"] == "join":
        indented(*("  +  ".join(_end(name, ends) for name in group) for group in step["groups"]))
    elif "diode" in step:
        indented(*diode_hints(ringing.bundle))
    elif step["step"] == "fit":
        indented(*(f"{_end(r['end'], ends)}: {r['ohms']:g} ohm" for r in step["resistors"]))


def _end(name: str, colours: Mapping[str, str | None]) -> str:
    colour = colours.get(name)
    return f"{name} ({colour})" if colour else name
