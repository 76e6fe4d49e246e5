# SPDX-License-Identifier: MIT
"""The enumerated words of the registry: one tuple each, used by schema, files and faces."""

from __future__ import annotations

from functools import cache
from pathlib import Path

PANELBOARD = "panelboard"
ENCLOSURE_KINDS = (
    "junction-box",
    "conduit-body",
    "wireway",
    PANELBOARD,
    "combiner",
    "disconnect",
    "inverter",
    "roof-array",
    "array",
    "equipment",
)
ARRAYS = ("array", "roof-array")
# The types of NEC chapter 9 table 4 (reprint; original not seen), then what has no trade size.
RACEWAY_TYPES = (
    "EMT",
    "ENT",
    "FMC",
    "IMC",
    "LFMC",
    "LFNC-B",
    "PVC-40",
    "PVC-80",
    "HDPE",
    "RMC",
    "wireway",
    "tray",
    "cable",
    "trench",
)
DEVICE_KINDS = ("breaker", "fuse", "disconnect", "contactor", "splice", "bus", "load", "source")
SYSTEMS = ("dc-pv", "dc-battery", "dc", "ac-1ph", "ac-3ph", "signal", "earthing")
SUPPLIES = ("120", "120/240", "208Y/120", "480Y/277", "240/120 high leg", "230", "400Y/230")
EARTHINGS = ("TN", "TT", "IT")
DC_SYSTEMS = ("dc-pv", "dc-battery", "dc")
RULE_SETS = ("NEC", "IEC")
NEC_EDITIONS = (2014, 2017, 2020, 2023)
LINES, PROTECTIVE = ("L1", "L2", "L3"), ("PE", "FE", "PEN")
EARTHS = (*PROTECTIVE, "raceway")  # M of a DC circuit is apart
FUNCTIONS = (*LINES, "N", "L+", "L-", "M", *PROTECTIVE, "signal")
END_STATES = ("landed", "capped", "loose")
RETIREMENTS = ("cut", "replaced", "removed", "abandoned")
INSTRUMENT_KINDS = ("ohmmeter", "multimeter", "insulation-tester", "loop-tester", "voltmeter")
OUTCOMES = ("pass", "fail", "doubt")
SYMPTOMS = (
    "dead-circuit",
    "tripping-breaker",
    "low-voltage",
    "reversed-polarity",
    "insulation-alarm",
    "wrong-string-voltage",
)
LENGTH_UNITS = ("m", "ft")
SIDES = ("from", "to")
ACTIONS = ("added", "changed", "removed", "loaded")
# What a note can be of.
SUBJECTS = (
    "conductor",
    "circuit",
    "enclosure",
    "raceway",
    "pull",
    "device",
    "terminal",
    "instrument",
    "site",
)
ATTACHED_TYPES = ("image/jpeg", "image/png", "application/pdf")
SPARE = "SPARE"  # in place of a circuit, of a conductor that serves none


@cache
def also() -> dict[str, tuple[str, ...]]:
    """Return what people call the allowed words too, by the word that they mean."""
    text = Path(__file__).with_name("also.txt").read_text("utf-8")
    pairs = (line.split(": ") for line in text.splitlines() if not line.startswith("#"))
    return {word: tuple(names.split(", ")) for word, names in pairs}
