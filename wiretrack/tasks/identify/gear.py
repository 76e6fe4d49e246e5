# SPDX-License-Identifier: MIT
"""The gear and crew of a ring-out, and changing them in its midst without losing anything."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, FieldError
from wiretrack.tasks.identify.request import (
    Wanted,
    bundle_of,
    gear_for,
    same_request,
    with_defaults,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.ringout.bundle import Bundle
    from wiretrack.store.store import Registry

GEAR = ("joins", "screen", "resistors", "crew", "diode", "instrument")


def gear_of(settings: Mapping[str, Any]) -> dict[str, Any]:
    """Return the gear and crew that settings name."""
    whole = with_defaults(settings)
    return {name: whole[name] for name in GEAR}


def typed_gear(settings: Mapping[str, Any]) -> dict[str, Any]:
    """Return the gear and crew that settings name as one asks for them: resistors as a list.

    >>> typed_gear({"resistors": [100.0, 4700.0], "crew": 1})["resistors"]
    '100,4700'
    """
    gear = gear_of(settings)
    return {**gear, "resistors": ",".join(f"{ohms:.15g}" for ohms in gear["resistors"]) or None}


def asked_gear(registry: Registry, stored: Mapping[str, Any], wanted: Wanted) -> dict[str, Any]:
    """Return the stored settings with the gear and crew that are asked for, all checked.

    Raises
    ------
    FieldError
        If one of them can't be; it names the field.
    """
    bare = Wanted(pull=wanted.pull, near=wanted.near, far=wanted.far)
    for name in GEAR:
        alone = replace(bare, **{name: getattr(wanted, name)})
        try:
            bundle_of({**stored, **gear_for(registry, alone)})
        except BadInputError as error:
            raise FieldError(name, error) from error
    return {**stored, **gear_for(registry, wanted)}


def same_but_gear(stored: Mapping[str, Any], asked: Mapping[str, Any]) -> bool:
    """Return whether two settings differ in gear, crew and where one starts at most."""
    alike = {**gear_of(stored), "start": stored["start"]}
    return same_request(stored, {**asked, **alike})


def switched(stored: Mapping[str, Any], asked: Mapping[str, Any], steps: int) -> dict[str, Any]:
    """Return the stored settings with the gear that is asked for from step `steps` + 1 on."""
    before = {**gear_of(stored), "until": steps}
    return {**stored, **gear_of(asked), "earlier": [*stored.get("earlier", ()), before]}


def gear_told(gear: Mapping[str, Any]) -> str:
    """Return gear and crew as one tells it.

    >>> gear_told({"crew": 2, "diode": True, "resistors": [100.0, 470.0]})
    'a helper with a radio, resistors of 100, 470 ohm, a diode'
    """
    words = ["a helper with a radio" if gear.get("crew") == 2 else "alone"]
    if gear.get("resistors"):
        values = ", ".join(f"{ohms:g}" for ohms in gear["resistors"])
        words.append(f"resistors of {values} ohm")
    if gear.get("diode"):
        words.append("a diode")
    if gear.get("joins") == "pairs":
        words.append("joins of two only")
    if gear.get("screen") == "none":
        words.append("no search for contacts")
    if gear.get("screen") == "first":
        words.append("a search for contacts first")
    if gear.get("instrument"):
        words.append(f"instrument {gear['instrument']}")
    return ", ".join(words)


def gear_lines(settings: Mapping[str, Any]) -> list[str]:
    """Return which gear was used for which steps, a line each."""
    lines, first = [], 1
    for before in settings.get("earlier", ()):
        if before["until"] >= first:
            span = (
                f"step {first}"
                if before["until"] == first
                else f"steps {first} to {before['until']}"
            )
            lines.append(f"{span}: {gear_told(before)}")
        first = max(first, before["until"] + 1)
    now = gear_told(gear_of(settings))
    return [*lines, f"from step {first} on: {now}"] if lines else [now]


def diode_hints(bundle: Bundle) -> tuple[str, ...]:
    """Return how to put a diode on and read it; common practice."""
    hints = (
        "Any rectifier diode does (1N4007, say); the band is its cathode.",
        "Set the meter to its diode range: an ohms range may be too weak to make a diode conduct."
        " Hold red as plus, black as minus, the same at both boxes (common practice).",
    )
    if bundle.crew == 2:
        return (*hints, "Look at the band twice: no reading can show the diode put on wrongly.")
    return (*hints, "The touches at this box show whether it conducts, and which way round it is.")
