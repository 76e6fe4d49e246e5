# SPDX-License-Identifier: MIT
"""Rich site files from a seed: a plain builder of what a site file may hold, made from words."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from itertools import pairwise
from random import Random
from typing import Any

from tests.pump import tag

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LINES = ("L1", "L2", "L3")
POLES = [["1", "2"], ["3", "4"], ["5", "6"]]
FUNCTIONS = {
    "ac-3ph": ("L1", "L2", "L3", "N", "PE"),
    "ac-1ph": ("L1", "N", "PE"),
    "dc-pv": ("L+", "L-", "PE"),
    "dc-battery": ("L+", "L-"),
    "dc": ("L+", "M"),
    "signal": ("signal", "signal", "signal", "FE"),
    "earthing": ("PE",),
}
COLOURS = {"L1": "BN", "L2": "BK", "L3": "GY", "N": "BU", "PE": "GNYE", "L+": "RD", "L-": "BK"}
SIZES = {"IEC": ("1.5 mm2", "4 mm2", "10 mm2"), "NEC": ("14 AWG", "10 AWG", "2 AWG", "250 kcmil")}
VOLTAGES = {"ac-3ph": "400 V", "ac-1ph": "230 V", "dc-pv": "600 V", "dc": "24 V", "signal": "24 V"}
INSULATIONS = {"IEC": ("H07V-K", "XHHW-2", "PVC"), "NEC": ("THWN-2", "XHHW-2", "USE-2", "THHN")}
ARRAYS = {
    "voc": "48.1 V",
    "isc": "11.2 A",
    "voc_pct_per_k": -0.27,
    "vmp": "40.3 V",
    "imp": "10.6 A",
}


@dataclass
class Site:
    """A site that grows: panels that feed panels, and circuits by way of junction boxes."""

    by: Random
    file: dict[str, Any]
    codes: dict[str, int] = field(default_factory=dict)

    def code(self, kind: str) -> str:
        """Return the next code of a kind."""
        self.codes[kind] = self.codes.get(kind, 0) + 1
        return f"{kind}{self.codes[kind]}"

    def add(self, table: str, /, **record: Any) -> dict[str, Any]:
        """Add a record, without what is unknown."""
        known = {key.rstrip("_"): value for key, value in record.items() if value is not None}
        known["id"] = str(uuid.UUID(int=self.by.getrandbits(128), version=4))
        self.file[table].append(known)
        return known

    def maybe(self, value: Any, chance: float = 0.7) -> Any:
        """Return a value, or sometimes that it is unknown."""
        return value if self.by.random() < chance else None

    def box(self, kind: str, code: str) -> str:
        """Add an enclosure."""
        about: dict[str, Any] = {"wet": self.maybe(self.by.random() < 0.3)}
        about |= {"sunlight": self.maybe(self.by.random() < 0.2), "indoors": self.maybe(True, 0.4)}
        name, where = f"{kind} {code.lower()}", self.by.choice(["barn", "well head", "mill, attic"])
        self.add("enclosures", code=code, kind=self.maybe(kind, 0.9), name=self.maybe(name),
                 where=self.maybe(where), marked=self.maybe(True, 0.2), **about)  # fmt: skip
        return code

    def raceway(self, one: str, other: str) -> str:
        """Join two enclosures."""
        by, code = self.by, self.code("W")
        kind = by.choice(["EMT", "RMC", "PVC-40", "FMC", "wireway", "cable", "tray", "HDPE", None])
        pipe = kind in ("EMT", "RMC", "PVC-40", "FMC")
        length = by.randint(3, 90)
        self.add("raceways", code=code, from_=one, to=other, type=kind,
                 trade_size=by.choice(["1/2", "3/4", "1", "1-1/4", "2"]) if pipe else None,
                 length=self.maybe(by.choice([f"{length} m", f"{length * 3} ft"]), 0.85),
                 bends_deg=self.maybe(by.choice([0, 90, 180, 360, 450]) if pipe else None),
                 metal=kind in ("EMT", "RMC", "FMC") if kind else None,
                 wet=self.maybe(True, 0.2), sunlight=self.maybe(True, 0.2),
                 indoors=self.maybe(True, 0.3), ambient=self.maybe("41 C", 0.2),
                 width="100 mm" if kind == "wireway" else None,
                 height="75 mm" if kind == "wireway" else None,
                 above_roof=self.maybe("90 mm", 0.15), marked=self.maybe(False, 0.2),
                 walls=self.maybe([f"{length / 3:.1f} m"], 0.3))  # fmt: skip
        return code

    def way(self, boxes: list[str]) -> list[str]:
        """Join boxes in a row, now and then by two raceways in parallel; return one way along."""
        path = [self.raceway(one, other) for one, other in pairwise(boxes)]
        if self.by.random() < 0.25:
            spot = self.by.randrange(len(path))
            other = self.raceway(boxes[spot + 1], boxes[spot])
            path[spot] = self.by.choice([path[spot], other])
        return path

    def panel(self, code: str, ways: int) -> None:
        """Add a panel: main switch, bus and ways."""
        self.box("panelboard", code)
        bus = [[line, f"Q0:{n}"] for line, n in zip(LINES, "246", strict=True)]
        kinds = ["breaker", "breaker", "fuse", "contactor"]
        for number in range(1, ways + 1):
            poles = POLES[: self.by.choice([1, 3, 3])]
            bus += [[line, f"Q{number}:{n}"] for line, (n, _) in zip(LINES, poles, strict=False)]
            self.add("devices", enclosure=code, code=f"Q{number}", kind=self.by.choice(kinds),
                     closed=self.by.choice([True, True, True, False, None]), poles=poles,
                     rating=self.maybe(self.by.choice(["16 A", "63 A"])),
                     termination_rating=self.maybe("75 C", 0.3))  # fmt: skip
        self.add("devices", enclosure=code, code="Q0", kind="disconnect", closed=True, poles=POLES)
        self.add("devices", enclosure=code, code="BUS", kind="bus", closed=True, poles=bus)

    def circuit(self, code: str, system: str) -> tuple[str, ...]:
        """Add a circuit and return the functions of its conductors."""
        by, module = self.by, None
        if system == "dc-pv":
            module = {**ARRAYS, "series": by.randint(4, 12), "parallel": by.choice([1, 1, 2])}
        self.add("circuits", code=code, title=self.maybe(f"{system} of {code.lower()}"),
                 system=system, max_voltage=self.maybe(VOLTAGES.get(system)),
                 supply=self.maybe("400Y/230", 0.4) if system == "ac-3ph" else None,
                 max_current=self.maybe(f"{by.randint(2, 40)} A", 0.8),
                 overcurrent=self.maybe(by.choice(["10 A", "20 A", "63 A"]), 0.6),
                 earthing=self.maybe(by.choice(["TN", "TT", "IT"]), 0.2),
                 solidly_earthed=self.maybe(True, 0.2) if system.startswith("dc") else None,
                 continuous=self.maybe(True, 0.3), motor=self.maybe(True, 0.2),
                 module=self.maybe(module, 0.9))  # fmt: skip
        found = FUNCTIONS[system]
        return found[:-1] if system != "earthing" and by.random() < 0.2 else found

    def run(self, circuit: str, functions: tuple[str, ...], boxes: list[str],
            ends: tuple[str, str]) -> None:  # fmt: skip
        """Draw the conductors of a circuit through boxes, sometimes cut and landed on the way."""
        path, by = self.way(boxes), self.by
        cut = len(boxes) > 2 and by.random() < 0.5
        spans = [(0, 1), (1, len(boxes) - 1)] if cut else [(0, len(boxes) - 1)]
        strip = self.code("TB")
        for span, (one, other) in enumerate(spans):
            pull = self.pull(path[one:other], boxes[other])
            kind = {
                "size": by.choice(SIZES[self.file["site"]["rules"]]),
                "metal": self.maybe(by.choice(["Cu", "Cu", "Al"]), 0.9),
                "insulation": self.maybe(by.choice(INSULATIONS[self.file["site"]["rules"]])),
                "strands": self.maybe(by.choice([1, 7, 19]), 0.8),
                "outer_diameter": self.maybe("4.8 mm", 0.3),
            }
            for number, function in enumerate(functions):
                first = f"{strip}:{number + 1}" if span else terminal(ends[0], number, function)
                last = f"{strip}:{number + 1}" if cut and not span else terminal(
                    ends[1], number, function)  # fmt: skip
                self.conductor(circuit, function, kind, pull, (boxes[one], first),
                               (boxes[other], last), str(number + 1))  # fmt: skip

    def pull(self, path: list[str], far: str) -> str | None:
        """Add a pull along a path, or leave it unknown."""
        if self.by.random() < 0.12:
            return None
        marks = [{"enclosure": far, "mark": f"X{n}", "colour": "BK"} for n in range(2)]
        pull = self.add("pulls", code=self.code("PL"), path=self.maybe(path, 0.9),
                        far_ends=self.maybe(marks, 0.08))  # fmt: skip
        return str(pull["code"])

    def conductor(self, circuit: str, function: str, kind: dict[str, Any], pull: str | None,
                  one: tuple[str, str], other: tuple[str, str], core: str) -> None:  # fmt: skip
        """Add a conductor, its ends mostly landed."""
        by = self.by
        colour = COLOURS.get(function, by.choice(["WH", "YE", "OG"]))
        body = "".join(by.choice(ALPHABET) for _ in range(6))
        self.add("conductors", tag=tag(body), circuit=circuit, function=function, **kind,
                 colour=self.maybe(by.choice([colour, colour, colour, "BK"]), 0.9), pull=pull,
                 core=self.maybe(core, 0.1), from_=self.end(*one, 0.95), to=self.end(*other, 0.8),
                 length=self.maybe(by.choice([f"{by.randint(3, 99)} m", "104 ft"]), 0.8),
                 set=self.maybe(1, 0.05), note=self.maybe("pulled in by hand", 0.1))  # fmt: skip

    def end(self, box: str, landing: str, chance: float) -> dict[str, Any]:
        """Return one end of a conductor."""
        end: dict[str, Any] = {"enclosure": box}
        if self.by.random() < chance:
            end |= {"terminal": landing, "state": "landed"}
        elif self.by.random() < 0.5:
            end["state"] = self.by.choice(["capped", "loose"])
        if self.by.random() < 0.15:
            end["reidentified"] = "BU"
        if self.by.random() < 0.05:
            end["crossed_at"] = "2026-03-04"
        return end

    def reading(self, conductor: dict[str, Any], year: int) -> None:
        """Add a reading of any kind, now and then one that replaces another."""
        by, beside = self.by, self.by.choice(self.file["conductors"])["tag"]
        kind, value, meter, more = by.choice([
            ("continuity", by.choice(["0.31 ohm", "420m", "OL", "1.9 ohm"]), "M1", "lead"),
            ("insulation", by.choice([">2000 Mohm", "0.3 Mohm", "210M", "12 Mohm"]), "M2", "volts"),
            ("voltage", by.choice(["-412 V", "231 V", "0 V", "24.1 V"]), "M3", "against"),
            ("loop", by.choice(["0.42 ohm", "1.1 ohm", "2.6 ohm"]), "M4", ""),
        ])  # fmt: skip
        made = self.add(
            "readings", kind=kind, subject=conductor["tag"], value=value,
            at=self.maybe(f"{year}-0{by.randint(1, 9)}-1{by.randint(0, 9)}T10:15:00+02:00", 0.95),
            instrument=self.maybe(meter), temp=self.maybe(f"{by.randint(-5, 40)} C"),
            leads=self.maybe("0.1 ohm") if more == "lead" else None,
            against=by.choice(["PE", "raceway", beside]) if more in ("volts", "against") else None,
            test_voltage=self.maybe("500 V", 0.8) if more == "volts" else None,
            after=self.maybe("1 min", 0.3) if more == "volts" else None,
            by=self.maybe("roof"), note=self.maybe("windy", 0.1),
        )  # fmt: skip
        if made.get("against") == conductor["tag"]:
            made["against"] = "PE"
        if by.random() < 0.1:
            again = {key: value for key, value in made.items() if key != "id"}
            self.add("readings", **{**again, "supersedes": made["id"], "note": "misread before"})


def terminal(device: str, number: int, function: str) -> str:
    """Return where a conductor lands at a device, or on the bars for neutral and earth.

    >>> terminal("Q1:2", 1, "L2"), terminal("X", 0, "PE")
    ('Q1:4', 'PE')
    """
    if function in ("PE", "N", "FE"):
        return function
    name, _, first = device.partition(":")
    return f"{name}:{int(first or 1) + 2 * number}" if first else f"{name}:{number + 1}"


def random_site(seed: int, panels: int = 2, ways: int = 5, readings: float = 0.6) -> dict[str, Any]:
    """Return a site file as a dictionary, always the same for the same seed and size."""
    by = Random(seed)
    rules = by.choice(["IEC", "NEC"])
    file: dict[str, Any] = {"format": "wiretrack-site/1"}
    file["site"] = {"code": f"S{seed}", "name": f"Site {seed}", "units": by.choice(["m", "ft"])}
    file["site"] |= {"rules": rules, "time_zone": "Europe/Lisbon", "ambient_max": "38 C"}
    file["site"] |= {"edition": by.choice([2017, 2020, 2023])} if rules == "NEC" else {}
    file["site"] |= {"record_low": "-9 C"} if by.random() < 0.7 else {}
    file["site"] |= {"base_address": "http://192.168.1.20:8080"} if by.random() < 0.5 else {}
    tables = ("enclosures", "devices", "raceways", "circuits", "pulls", "conductors", "instruments")
    file |= {table: [] for table in (*tables, "readings")}
    site = Site(by, file)
    for code, kind in zip(("M1", "M2", "M3", "M4"), METERS, strict=True):
        site.add("instruments", code=code, kind=kind, accuracy=site.maybe("1.5% + 3 digits"),
                 resolution=site.maybe("0.01 ohm") if code in ("M1", "M4") else None)  # fmt: skip
    site.box("equipment", "GRID")
    site.add("devices", enclosure="GRID", code="T", kind="source",
             poles=[["star", "1"], ["star", "3"], ["star", "5"]])  # fmt: skip
    grow(site, panels, ways)
    bundle(site)
    for conductor in file["conductors"]:
        for year in range(2023, 2023 + by.choice([0, 1, 1, 4])):
            if by.random() < readings:
                site.reading(conductor, year)
    return file


def bundle(site: Site) -> None:
    """Add a pull of 3 to 7 conductors whose far ends nobody has identified, to be rung out."""
    near, far = site.box("junction-box", "NEAR"), site.box("junction-box", "FAR")
    site.add("raceways", code="WR", from_=near, to=far, type="RMC", trade_size="1", length="40 m",
             bends_deg=90, metal=True)  # fmt: skip
    site.add("pulls", code="RING", path=["WR"])
    site.add("circuits", code="BELL", title="bells", system="signal", max_voltage="24 V")
    colours = site.by.choice([["RD"], ["RD", "BK"], ["RD", "BK", "WH", "YE"]])
    for number in range(site.by.randint(3, 7)):
        body = "".join(site.by.choice(ALPHABET) for _ in range(6))
        site.add("conductors", tag=tag(body), circuit="BELL", function="signal", size="1.5 mm2",
                 metal="Cu", colour=site.by.choice(colours), pull="RING", length="43 m",
                 from_={"enclosure": near, "terminal": f"TB1:{number + 1}", "state": "landed"},
                 to={"enclosure": far})  # fmt: skip


METERS = ("ohmmeter", "insulation-tester", "multimeter", "loop-tester")


def grow(site: Site, panels: int, ways: int) -> None:
    """Add panels, their feeders and their circuits to a site."""
    systems = list(FUNCTIONS)
    for number in range(1, panels + 1):
        panel, feeder = f"P{number}", site.code("FEED")
        site.panel(panel, ways)
        fed, way = ("GRID", "T:1") if number == 1 else (f"P{site.by.randrange(1, number)}", "Q1:2")
        site.circuit(feeder, "ac-3ph")
        junctions = [
            site.box("junction-box", site.code("JB")) for _ in range(site.by.choice((0, 1)))
        ]
        site.run(feeder, FUNCTIONS["ac-3ph"], [fed, *junctions, panel], (way, "Q0:1"))
        for use in range(2, ways + 1):
            if site.by.random() < 0.2:
                continue  # a spare way
            system = systems[(number * ways + use) % len(systems)]
            load = site.box(site.by.choice(["equipment", "inverter", "array"]), site.code("E"))
            through = [
                site.box("conduit-body", site.code("JB")) for _ in range(site.by.choice((0, 1, 2)))
            ]
            code = site.code("C")
            functions = site.circuit(code, system)
            if site.by.random() < 0.8:
                poles = [[f"{n + 1}", "star"] for n in range(len(functions))]
                site.add("devices", enclosure=load, code="M", kind="load", closed=True, poles=poles)
            site.run(code, functions, [panel, *through, load], (f"Q{use}:2", "M"))
