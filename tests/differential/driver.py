# SPDX-License-Identifier: MIT
"""Plays commands of an installed wiretrack in one process; run by the python of that install.

It reads one JSON document on standard input: ``{"folder", "first", "commands"}``, and writes a line
of JSON for each command: ``{"exit", "out", "err", "s"}``. A command has ``args`` and may have
``columns``, ``files`` (text to write before), ``stdin``, ``bundle`` (a simulated bundle that
answers a ring-out's steps) or ``answers`` (outcomes for a search for a fault). Nothing here knows
how wiretrack is built, but for its console script.
"""

from __future__ import annotations

import datetime
import heapq
import importlib
import io
import json
import os
import pkgutil
import secrets
import sys
import time
import traceback
from importlib.metadata import entry_points
from pathlib import Path
from random import Random
from typing import Any, TextIO

FAR, RACEWAY = "far", "raceway"
Played = dict[str, Any]


class Clock(datetime.datetime):
    """Today's times of day, a command at a time, so that no second passes in one program only."""

    at = midnight = datetime.datetime.combine(
        datetime.datetime.now(datetime.UTC).date(), datetime.time(tzinfo=datetime.UTC)
    )

    @classmethod
    def now(cls, tz: datetime.tzinfo | None = None) -> Clock:
        """Return the time of the command that is played."""
        shown = cls.at.astimezone(tz) if tz else cls.at.replace(tzinfo=None)
        return cls.fromisoformat(shown.isoformat())


def set_clock() -> None:
    """Import all of wiretrack and let it read `Clock`."""
    wiretrack = importlib.import_module("wiretrack")
    for found in pkgutil.walk_packages(wiretrack.__path__, "wiretrack."):
        if not found.name.endswith("__main__"):
            module = importlib.import_module(found.name)
            if getattr(module, "datetime", None) is datetime.datetime:
                module.datetime = Clock  # type: ignore[attr-defined]


class Bundle(io.TextIOBase):
    """Standard input that answers the last step written, as a bundle of wires would."""

    def __init__(self, out: io.BytesIO, about: dict[str, Any]) -> None:
        self.out, self.about = out, about
        self.joins: dict[str, list[tuple[str, str, float]]] = {"near": [], FAR: []}
        self.probes = 0

    def readline(self, size: int | None = -1) -> str:  # type: ignore[override]
        """Return the answer to the last line of standard output; nothing once it is to stop."""
        sys.stdout.flush()
        if self.about.get("gone"):
            return ""
        step = json.loads(self.out.getvalue().decode().rstrip("\n").rpartition("\n")[2])
        return json.dumps(self.answer(step)) + "\n"

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        """Return what is read or done."""
        here, kind = step.get("at", "near"), step["step"]
        if kind == "join":
            for first, *others in step["groups"]:
                self.joins[here] += [(first, other, 0.0) for other in others]
        elif kind == "unjoin":
            out = set(step.get("ends", ()))
            kept = [j for j in self.joins[here] if out and not out & set(j[:2])]
            self.joins[here] = kept
        elif kind == "fit":
            fitted = step.get("resistors", ())
            self.joins[here] += [(r["end"], step["common"], r["ohms"]) for r in fitted]
        elif kind == "probe":
            self.probes += 1
            if self.probes == self.about.get("stop_at"):
                self.about["gone"] = True
            return {"ohms": self.ohms(here, *step["between"])}
        return {"done": True}

    def ohms(self, here: str, one: str, other: str) -> float | str:
        """Return the least resistance between two ends, or OL."""
        links: dict[tuple[str, str], list[tuple[tuple[str, str], float]]] = {}

        def link(a: tuple[str, str], b: tuple[str, str], ohms: float) -> None:
            links.setdefault(a, []).append((b, ohms))
            links.setdefault(b, []).append((a, ohms))

        for tag, mark in {**self.about["mate"], RACEWAY: RACEWAY}.items():
            if tag not in self.about.get("broken", ()):
                link(("near", tag), (FAR, mark), 0.4)
        for tag, touching in self.about.get("shorts", ()):
            link(("near", tag), ("near", touching), 1.0)
        for side, joins in self.joins.items():
            for a, b, value in joins:
                link((side, a), (side, b), value)
        found, heap = {(here, one): 0.0}, [(0.0, (here, one))]
        while heap:
            far, node = heapq.heappop(heap)
            for there, more in links.get(node, ()):
                if far + more < found.get(there, 1e9):
                    found[there] = far + more
                    heapq.heappush(heap, (far + more, there))
        return round(found[here, other], 2) if (here, other) in found else "OL"


def typed(main: Any, args: list[str], stdin: TextIO, out: io.BytesIO) -> tuple[int, str]:
    """Run one command line; return its exit status and what it wrote on standard error."""
    err = io.BytesIO()
    before = sys.stdin, sys.stdout, sys.stderr
    sys.stdout = io.TextIOWrapper(out, "utf-8", write_through=True)
    sys.stderr = io.TextIOWrapper(err, "utf-8", write_through=True)
    sys.stdin = stdin
    try:
        main(args)
        status = 0
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    except BaseException:
        traceback.print_exc()
        status = -1
    finally:
        written = sys.stdout, sys.stderr
        sys.stdin, sys.stdout, sys.stderr = before
        for stream in written:
            stream.detach()  # the bytes outlive it
    return status, err.getvalue().decode("utf-8", "replace")


def play(main: Any, command: dict[str, Any]) -> Played:
    """Run one command and return what came of it."""
    for name, text in command.get("files", {}).items():
        Path(name).write_text(text, "utf-8")
    os.environ["COLUMNS"] = str(command.get("columns", 80))
    out, begun = io.BytesIO(), time.perf_counter()
    stdin: Any = io.StringIO(command.get("stdin", ""))
    if command.get("bundle"):
        stdin = Bundle(out, command["bundle"])
    status, err = typed(main, command["args"], stdin, out)
    shown = out.getvalue().decode("utf-8", "replace")
    return {"exit": status, "out": shown, "err": err, "s": time.perf_counter() - begun}


def searched(main: Any, command: dict[str, Any]) -> Played:
    """Begin a search for a fault and answer its questions until none is left."""
    found, what = play(main, command), command["args"][-2]
    for answer in command["answers"]:
        try:
            state = json.loads(found["out"].rpartition("\f")[2])
        except ValueError:
            break
        if not isinstance(state, dict) or state.get("next") is None:
            break
        more = play(main, {"args": ["symptom", "answer", what, answer, "--json"]})
        found["out"] += "\f" + more["out"]
        found["err"] += more["err"]
        found["exit"], found["s"] = more["exit"], found["s"] + more["s"]
    return found


def run() -> None:
    """Play what standard input asks for."""
    (script,) = entry_points(group="console_scripts", name="wiretrack")
    main, asked, written = script.load(), json.load(sys.stdin), sys.stdout
    set_clock()
    os.chdir(asked["folder"])
    for number, command in enumerate(asked["commands"], asked["first"]):
        Clock.at = Clock.midnight + datetime.timedelta(seconds=2 * number)
        secrets.choice = Random(number).choice  # the tags made on the way are alike
        found = (searched if "answers" in command else play)(main, command)
        written.write(json.dumps(found) + "\n")
        written.flush()


if __name__ == "__main__":
    run()
