# SPDX-License-Identifier: MIT
"""The command lines that are compared: what a site file holds decides what is asked of it."""

from __future__ import annotations

import json
from random import Random
from typing import Any

Command = dict[str, Any]
Site = dict[str, Any]
SYMPTOMS = ("dead-circuit", "low-voltage", "reversed-polarity", "insulation-alarm")
KINDS = ("pull-numbers", "box-card", "plate", "marking")
HELP = (
    "demo new load dump show find trace isolate land extend replace retire swap scan check"
    " marking punchlist report fault trend string expect serve binder verify backup rescue"
    " merge history undo set add"
).split()
GROUPS = {
    "ringout": "run plan status correct undo record",
    "test": "plan log",
    "label": "fit print due placed preview stocks calibrate address",
    "symptom": "start status answer correct undo",
}
WRONG = (
    ("show", "NOWHERE"), ("show", "000-0000"), ("trace", "A/B"), ("isolate", "P1/Q99"),
    ("isolate", "P1"), ("check", "NOPE"), ("test", "plan", "NOPE"), ("find", ""),
    ("ringout", "status", "NOPE"), ("symptom", "status", "NOPE"), ("load", "nofile.json"),
    ("label", "fit", "NOPE", "--stock", "wrap-45x67-a4"), ("report", "NOPE"), ("nosuch",),
    ("marking", "NOPE"), ("trend", "NOPE"), ("string", "NOPE"), ("merge", "nofile.db"),
)  # fmt: skip


def of(site: Site, table: str) -> list[Any]:
    """Return the records of a table."""
    found: list[Any] = site.get(table, [])
    return found


def codes(site: Site, table: str) -> list[str]:
    """Return the codes, or the tags, of a table's records."""
    return [record.get("code") or record["tag"] for record in of(site, table)]


def line(*args: str, **more: Any) -> Command:
    """Return one command."""
    return {"args": list(args), **more}


def helps() -> list[Command]:
    """Return what asks for each command's help."""
    pairs = [[group, *([name] if name else [])]
             for group, names in GROUPS.items() for name in ("", *names.split())]  # fmt: skip
    return [line(*words, "--help") for words in ([], *([name] for name in HELP), *pairs)]


def looks(site: Site, by: Random, most: int) -> list[tuple[str, ...]]:
    """Return what only looks at a site; of each table at most so many records."""

    def some(table: str) -> list[str]:
        found = codes(site, table)
        return found if len(found) <= most else by.sample(found, most)

    tags, circuits = some("conductors"), some("circuits")
    devices = of(site, "devices")
    devices = devices if len(devices) <= most else by.sample(devices, most)
    found: list[tuple[str, ...]] = [("check",), ("check", "--all"), ("marking",), ("punchlist",)]
    found += [("label", "due"), ("label", "stocks"), ("verify",), ("report",), ("dump",)]
    for table in ("conductors", "circuits", "enclosures", "raceways", "pulls"):
        found += [("show", code) for code in some(table)]
    for tag in tags:
        found += [("trace", tag), ("trace", tag, "--tree"), ("trend", tag)]
        found += [("expect", tag, "--ohms", "0.42"), ("check", tag), ("marking", tag)]
    for code in circuits:
        found += [("check", code), ("check", code, "--all"), ("marking", code)]
        found += [("test", "plan", code), ("report", code), ("label", "due", code)]
        found += [("string", code), ("string", code, "--reading", "390 V", "--cell-temp", "45 C")]
    for device in devices:
        place = f"{device['enclosure']}/{device['code']}"
        found += [
            ("isolate", place),
            ("trace", f"{place}:2"),
            ("isolate", place, "--source", f"{place}:2"),
        ]
    for code in some("raceways") + some("enclosures"):
        found += [("check", code), ("marking", code)]
    for word in (
        "barn",
        "M1",
        "dc",
        "breaker",
        "pull hand",
        tags[0][:3],
        "roof",
        "wet",
        circuits[0],
    ):
        found.append(("find", *word.split()))
    for code in some("pulls"):
        found += [("ringout", "status", code), *plans(site, code)]
    return [*found, *faults(site, by, tags), *WRONG, *expects()]


def plans(site: Site, pull: str) -> list[tuple[str, ...]]:
    """Return what asks for the plans of a ring-out of a pull."""
    pair = next(((c["from"]["enclosure"], c["to"]["enclosure"])
                 for c in of(site, "conductors") if c.get("pull") == pull), None)  # fmt: skip
    if pair is None:
        return []
    asked = ("ringout", "plan", pull, "--near", pair[0], "--far", pair[1])
    return [asked, (*asked, "--reference", "raceway", "--resistors", "100,220,470", "--crew", "2")]


def faults(site: Site, by: Random, tags: list[str]) -> list[tuple[str, ...]]:
    """Return readings whose fault is to be placed."""
    found: list[tuple[str, ...]] = []
    for tag in tags[:8]:
        beside = by.choice(tags)
        found += [
            ("fault", tag, "--against", "raceway", "--near", "0.21", "--far", "0.34"),
            ("fault", tag, "--against", beside, "--near", "0.21", "--near-joined", "0.18"),
            ("fault", tag, "--murray", "1:3", "--good", beside),
            ("fault", tag, "--along", "1.8", "--temp", "31 C"),
            ("fault", tag, "--near", "1.1 nF", "--far", "2.3 nF"),
        ]
    return found


def expects() -> list[tuple[str, ...]]:
    """Return what asks for a resistance or a length, of no site."""
    sizes = ("14 AWG", "250 kcmil", "6 mm2", "7 mm2", "nonsense")
    long = [("expect", "--size", size, "--length", "104 ft", "--temp", "60 C") for size in sizes]
    return [*long, ("expect", "--size", "4 mm2", "--ohms", "0.31", "--metal", "Al")]


def looked(site: Site, seed: int, most: int) -> list[Command]:
    """Return what looks at a site: each as JSON, and as text, some of it on 40 columns."""
    by = Random(seed)
    asked = looks(site, by, most)
    texts = asked if most > 9 else by.sample(asked, min(len(asked), 60))
    narrow = by.sample(asked, min(len(asked), 25))
    return [*(line(*words, "--json") for words in asked), *(line(*words) for words in texts),
            *(line(*words, columns=40) for words in narrow),
            line("dump", "--out", "looked.json")]  # fmt: skip


def rung(site: Site, seed: int) -> list[Command]:
    """Return ring-outs of up to three pulls, broken off and gone on with, and what they left."""
    by, found = Random(seed), []
    pulls = [p for p in codes(site, "pulls") if p == "RING"] + codes(site, "pulls")[:2]
    for pull in dict.fromkeys(pulls):
        wires = [c for c in of(site, "conductors") if c.get("pull") == pull][:8]
        if not wires:
            continue
        tags, order = [c["tag"] for c in wires], list(range(1, len(wires) + 1))
        by.shuffle(order)
        mate = {f"{t[:3]}-{t[3:]}": str(n) for t, n in zip(tags, order, strict=True)}
        mate |= {t: str(n) for t, n in zip(tags, order, strict=True)}
        about: dict[str, Any] = {"mate": mate}
        if by.random() < 0.4:
            about["broken"] = [tags[0], f"{tags[0][:3]}-{tags[0][3:]}"]
        elif by.random() < 0.4 and len(tags) > 1:
            about["shorts"] = [[f"{t[:3]}-{t[3:]}" for t in tags[:2]]]
        ends = ("--near", wires[0]["from"]["enclosure"], "--far", wires[0]["to"]["enclosure"])
        more = by.choice([("--reference", "raceway"), (), ("--resistors", "100,220,470,1000")])
        run = ("ringout", "run", pull, *ends, *more, "--jsonl")
        status = [line("ringout", what, pull, *more) for what in ("status", "record")
                  for more in (("--json",), ())]  # fmt: skip
        found += [line(*run, bundle={**about, "stop_at": 3}), *status,
                  line("ringout", "undo", pull, "--json"),
                  line("ringout", "correct", pull, "1", "o", "--json"),
                  line("ringout", "correct", pull, "1", "c"), line(*run, bundle=about), *status,
                  line("ringout", "status", pull, "--why", tags[0]),
                  line("ringout", "record", pull, "--out", f"ringout-{pull}.html")]  # fmt: skip
    return found


def searches(site: Site, seed: int) -> list[Command]:
    """Return guided searches for a fault, each answered to its end."""
    by, found = Random(seed), []
    tags, circuits = codes(site, "conductors"), codes(site, "circuits")
    asked = [(by.choice(SYMPTOMS), by.choice(tags)) for _ in range(6)]
    asked += [("tripping-breaker", code) for code in by.sample(circuits, min(3, len(circuits)))]
    asked += [("wrong-string-voltage", c["tag"]) for c in of(site, "conductors")
              if c["function"] == "L+"][:2]  # fmt: skip
    for symptom, what in asked:
        answers = by.choices(["yes", "no", "cant"], [4, 4, 1], k=12)
        start = ("symptom", "start", symptom, what)
        found += [line(*start, "--json", answers=answers, what=what),
                  line("symptom", "status", what, "--json"), line("symptom", "status", what),
                  line("symptom", "undo", what, "--json"),
                  line("symptom", "correct", what, "1", "no", "--json"),
                  line("symptom", "status", what, columns=40)]  # fmt: skip
    return found


def tested(site: Site, seed: int) -> list[Command]:
    """Return readings that are logged, good and bad, and labels that are placed."""
    by, found = Random(seed), []
    tags = codes(site, "conductors")
    for n in range(24):
        tag, at = by.choice(tags), ("--at", f"2026-05-0{n % 9 + 1}T10:00:00+02:00")
        kind, value, *more = by.choice([
            ("continuity", "0.31", "--leads", "0.1", "--temp", "25 C"), ("continuity", "OL"),
            ("insulation", ">2000M", "--against", "PE", "--test-voltage", "500 V"),
            ("insulation", "0.4 Mohm", "--against", by.choice(tags), "--after", "1 min"),
            ("insulation", "12 Mohm", "--against", "raceway"), ("voltage", "231 V"),
            ("voltage", "-412V", "--against", by.choice(tags), "--cell-temp", "40 C"),
            ("loop", "0.42"), ("loop", "abc"), ("continuity", "5 V"),
            ("insulation", "3M", "--leads", "1"),
            ("continuity", "0.3", "--instrument", "NOPE"),
            ("continuity", "0.3", "--instrument", "M1"),
        ])  # fmt: skip
        words = ("test", "log", tag, "--kind", kind, *more, *at, "--", value)
        found.append(line(*words[:2], "--json", *words[2:]) if n % 3 else line(*words))
    for reading in of(site, "readings")[:3]:
        words = ("test", "log", reading["subject"], reading["value"], "--kind", reading["kind"])
        found.append(line(*words, "--supersedes", reading.get("id", "none"), "--json"))
    for tag in by.sample(tags, min(4, len(tags))):
        found += [line("label", "placed", tag, "--by-hand", "--json"), line("label", "placed", tag),
                  line("label", "placed", tag, "--end", "to", "--take-back")]  # fmt: skip
    return found


def changed(site: Site, seed: int) -> list[Command]:
    """Return changes of the work, possible and impossible ones, and what they leave to see."""
    by, found = Random(seed), []
    wires = of(site, "conductors")
    on = ("--on", "2026-06-01")
    boxes = codes(site, "enclosures")
    for n in range(16):
        one, other = by.choice(wires), by.choice(wires)
        tag, end = one["tag"], one[by.choice(["from", "to"])]
        bus = next(
            (d["code"] for d in of(site, "devices") if d["enclosure"] == end["enclosure"]), "Q1"
        )
        box, how = end["enclosure"], by.choice([("--capped",), ("--loose",), ("--take-back",)])
        strip = ("--terminal", f"TBX:{n}", "--new-terminal")
        path = next(
            (p.get("path") for p in of(site, "pulls") if p["code"] == one.get("pull")), None
        )
        passed = [box for w in of(site, "raceways") if w["code"] in (path or ())[1:]
                  for box in (w["from"], w["to"])]  # fmt: skip
        through = by.choice(passed or boxes)
        cut = ("--raceway", path[0], "--into", f"{path[0]}A,{path[0]}B") if path else ()
        found += by.choice([
            [line("land", tag, box, *how), line("land", tag, box, *strip, "--json")],
            [line("land", tag, box, "--terminal", f"{bus}:2", "--anyway"),
             line("land", tag, box, "--take-back")],
            [line("retire", tag, "--removed", *on, "--json"), line("retire", tag, "--take-back")],
            [line("retire", tag, "--abandoned", *on),
             line("retire", one["circuit"], "--abandoned", *on, "--json")],
            [line("replace", tag, "--same", *on, "--json"), line("show", tag)],
            [line("replace", tag, "--size", "6 mm2", "--metal", "Cu", "--length", "12 m", *on)],
            [line("swap", tag, other["tag"], "--at", box, *on, "--json"),
             line("swap", tag, sibling(wires, one, box), "--at", box, *on, "--json")],
            [line("swap", tag, sibling(wires, one, box), "--at", box, "--marks", *on)],
            [line("extend", tag, "--through", through, "--capped", *on, "--json")],
            [line("extend", one["circuit"], "--through", f"NB{n}", "--new-box", "junction-box",
                  *cut, "--terminals", "TB1:1-9", "--loose", *on, "--json")],
            [line("extend", tag, "--through", f"NB{n}", "--new-box", "junction-box", *cut,
                  "--terminals", "TB1:1", "--lengths", "3 m,?", *on, "--json")],
        ])  # fmt: skip
        found += [line("show", tag, "--json"), line("trace", tag, "--json")]
    ends = [line("punchlist", "--json"), line("check", "--json"), line("verify", "--json")]
    return [*found, *ends, line("label", "due"), line("dump", "--out", "changed.json")]


def sibling(wires: list[Any], one: Any, box: str) -> str:
    """Return the tag of another conductor that ends in a box, or of any."""
    there = [
        w for w in wires if w is not one and box in (w["from"]["enclosure"], w["to"]["enclosure"])
    ]
    found: str = (there or wires)[0]["tag"]
    return found


def printed(site: Site, stocks: list[str], seed: int) -> list[Command]:
    """Return labels to fit and print, reports and a binder to write."""
    by, found = Random(seed), []
    tags, pulls, boxes = (codes(site, t) for t in ("conductors", "pulls", "enclosures"))
    whats = [*by.sample(tags, min(2, len(tags))), pulls[0], by.choice(codes(site, "circuits"))]
    for n, what in enumerate(whats):
        for stock in by.sample(stocks, min(4, len(stocks))):
            asked = (what, "--stock", stock)
            found += [line("label", "fit", *asked, "--json"), line("label", "fit", *asked)]
            more = by.choice([(), ("--contents", "short"), ("--text-only",), ("--page", "A4")])
            kind = by.choice(["pdf", "png", "svg"])
            found.append(
                line("label", "print", *asked, *more, "--out", f"{n}-{stock}.{kind}", "--json")
            )
    for kind in KINDS:
        what = {"pull-numbers": pulls[0], "plate": "P1/*", "marking": pulls[0]}.get(kind, boxes[0])
        words = ("label", "print", what, "--kind", kind, "--stock", by.choice(stocks))
        found.append(line(*words, "--out", f"{kind}.pdf", "--json"))
    found += [line("label", "print", "--due", "--stock", by.choice(stocks), "--out", "due.pdf")]
    found += [line("label", "preview", tags[0], "--stock", by.choice(stocks)), line("label", "due")]
    for n, code in enumerate(codes(site, "circuits")[:3]):
        found.append(line("report", code, "--out", f"report{n}.html", "--by", "roof"))
    found += [line("report", "--out", "report.pdf", "--by", "roof", "--record", "record.json"),
              line("trace", tags[0], "--svg", "tree.svg"), line("trend", tags[0], "--svg", "t.svg"),
              line("binder", "binder", "--date", "2026-06-01", "--json")]  # fmt: skip
    return found


def merged(site: Site, seed: int) -> list[Command]:
    """Return two copies changed apart, and their merge."""
    by = Random(seed)
    wires = of(site, "conductors")
    tag, other = (wire["tag"] for wire in by.sample(wires, 2))
    box, there = ("--db", "copy.db"), ("--db", "mine.db")
    where = next(w for w in wires if w["tag"] == tag)["to"]["enclosure"]
    new = ("--new-terminal", "--anyway")
    more = {"enclosures": [{"code": "NEWBOX", "name": "theirs"}], "format": site["format"]}
    files = {"more.json": json.dumps(more), "mine.json": json.dumps(more).replace("theirs", "mine")}
    reading = ("test", "log", other, "0.4", "--kind", "continuity")
    return [
        line("backup", "copy.db", files=files), line("backup", "mine.db"),
        line(*box, "land", tag, where, "--terminal", "TA:1", *new), line(*box, *reading),
        line(*there, "land", tag, where, "--terminal", "TA:2", *new), line(*there, *reading),
        line(*box, "load", "more.json"), line(*there, "load", "mine.json"),
        line(*box, "retire", other, "--removed", "--on", "2026-06-02"),
        *(line(*there, "merge", "copy.db", "--look", *how) for how in (("--json",), ())),
        line(*there, "merge", "copy.db", "--json"), line(*there, "merge", "copy.db"),
        line(*there, "merge", "--json"),
        line(*there, "merge", "copy.db", "--look", "--json"),
        *(line(*there, "show", what, "--json") for what in (tag, other, "NEWBOX")),
        line(*there, "verify", "--json"), line(*there, "dump", "--out", "merged.json"),
    ]  # fmt: skip
