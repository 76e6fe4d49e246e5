# SPDX-License-Identifier: MIT
"""The enumerated words of the registry: one tuple each, used by schema, files and faces."""

from __future__ import annotations

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
# What people call these too, in any case: read where somebody types, and in sheets; a JSON site
# file has the words above. One that may mean several is asked about.
ALSO = {
    "junction-box": ("box", "jb", "jbox", "j-box", "pull box"),
    "conduit-body": ("body", "pull point"),
    "wireway": ("trough", "gutter", "trunking"),
    "panelboard": ("panel", "board", "distribution board", "consumer unit", "load center",
                   "load centre", "subpanel", "breaker panel"),
    "combiner": ("combiner box", "pv combiner", "string combiner"),
    "disconnect": ("isolator", "switch", "safety switch", "disconnect switch", "disconnector"),
    "inverter": ("pv inverter",),
    "roof-array": ("roof", "roof pv"),
    "array": ("pv array", "ground array"),
    "equipment": ("machine", "appliance"),
    "EMT": ("conduit", "thin wall", "thinwall"),
    "FMC": ("flex",),
    "IMC": ("conduit",),
    "LFMC": ("liquidtight",),
    "LFNC-B": ("liquidtight", "lfnc"),
    "PVC-40": ("pvc", "pvc40", "sch 40", "schedule 40", "pvc sch 40", "pvc schedule 40"),
    "PVC-80": ("pvc", "pvc80", "sch 80", "schedule 80", "pvc sch 80", "pvc schedule 80"),
    "RMC": ("conduit", "rigid", "rigid metal", "grc"),
    "tray": ("cable tray",),
    "breaker": ("circuit breaker", "cb", "mcb", "mccb", "rcbo"),
    "fuse": ("fuse holder",),
    "splice": ("joint", "connector"),
    "bus": ("busbar", "bus bar", "bar"),
    "load": ("consumer", "motor", "lamp", "heater"),
    "source": ("supply", "feed", "generator", "battery"),
    "dc-pv": ("pv", "solar"),
    "dc-battery": ("battery",),
    "ac-1ph": ("ac", "1ph", "1-phase", "single phase", "single-phase"),
    "ac-3ph": ("ac", "3ph", "3-phase", "three phase", "three-phase"),
    "signal": ("control", "data"),
    "earthing": ("earth", "ground", "grounding"),
    "N": ("neutral",),
    "M": ("midpoint",),
    "L+": ("+", "plus", "positive"),
    "L-": ("-", "minus", "negative"),
    "PE": ("earth", "ground", "egc", "protective earth"),
    "FE": ("functional earth",),
    "Cu": ("copper",),
    "Al": ("aluminium", "aluminum"),
    "insulation-tester": ("insulation meter",),
    "multimeter": ("dmm", "meter"),
    "m": ("metre", "metres", "meter", "meters", "metric"),
    "ft": ("foot", "feet"),
}  # fmt: skip
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
