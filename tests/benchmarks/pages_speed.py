# SPDX-License-Identifier: MIT
"""Time record pages, the API and posted readings on a registry of many conductors.

Run by hand: ``python tests/benchmarks/pages_speed.py [CONDUCTORS] [SECONDS] [REGISTRY]``. A server
runs in processes of its own; the clients, each on its own connection, in this one. REGISTRY is
kept and used again if it is named.
"""

from __future__ import annotations

import itertools
import json
import random
import re
import selectors
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from tests.record_of import add_document
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import End
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import ALPHABET, Tag, check_character
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import new_site

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

CLIENTS, CODE = 20, "benchmark"
_LENGTH = re.compile(rb"(?i)content-length: (\d+)")
AT_ONCE, A_CIRCUIT = 20_000, 4
SETTLING_S = 0.5
FUNCTIONS = ("L1", "L2", "L3", "PE")


def tag_of(number: int) -> str:
    """Return the tag of the conductor with that number."""
    body = ""
    for _ in range(6):
        number, digit = divmod(number, len(ALPHABET))
        body = ALPHABET[digit] + body
    return body + check_character(body)


def fill(path: Path, count: int) -> None:
    """Make a registry of `count` conductors, four a circuit, a hundred circuits a building."""
    new_site(path, "Benchmark")
    with open_registry(path) as registry:
        for start in range(0, count, AT_ONCE):
            add_document(registry, part(start, min(start + AT_ONCE, count)))


def part(start: int, stop: int) -> SiteDocument:
    """Return the conductors from `start` to before `stop`, and all that they lie in."""
    buildings = range(start // 400, (stop + 399) // 400)
    circuits = range(start // A_CIRCUIT, (stop + A_CIRCUIT - 1) // A_CIRCUIT)
    return SiteDocument(
        enclosures=tuple(
            Enclosure(code=f"{kind}{b}", kind="panelboard", name=f"board {b}")
            for b in buildings
            for kind in ("P", "J")
        ),
        raceways=tuple(
            Raceway(code=f"W{b}", from_enclosure=f"P{b}", to_enclosure=f"J{b}", length_m=30.0,
                    metal=True)
            for b in buildings
        ),
        pulls=tuple(Pull(code=f"R{b}", path=(f"W{b}",)) for b in buildings),
        circuits=tuple(
            Circuit(code=f"C{c}", title=f"machine {c}", system="ac-3ph", max_voltage_v=400.0)
            for c in circuits
        ),
        conductors=tuple(
            Conductor(
                tag=Tag(tag_of(n)), circuits=(f"C{n // A_CIRCUIT}",),
                function=FUNCTIONS[n % A_CIRCUIT],
                size="4 mm2", metal="Cu", strands=7, colour="BK", pull=f"R{n // 400}",
                length_m=31.0, from_end=End(enclosure=f"P{n // 400}"),
                to_end=End(enclosure=f"J{n // 400}"),
            )
            for n in range(start, stop)
        ),
    )  # fmt: skip


@dataclass
class Load:
    """What clients met: seconds of each answer."""

    taken_s: list[float] = field(default_factory=list)
    wall_s: float = 0.0

    def told(self) -> str:
        """Return the rate, the median and the 99th hundredth."""
        cuts = statistics.quantiles(self.taken_s, n=100)
        return (
            f"{len(self.taken_s) / self.wall_s:7.0f}/s   median {cuts[49] * 1e3:6.1f} ms"
            f"   p99 {cuts[98] * 1e3:6.1f} ms   ({len(self.taken_s)} answers)"
        )


class Client:
    """One connection that asks, waits for the whole answer, and asks again after a pause."""

    def __init__(self, port: int, pause_s: float) -> None:
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=30)
        self.pause_s = pause_s
        self.asks_at: float | None = time.perf_counter() + random.random() * pause_s
        self.asked_at = 0.0
        self.got = b""

    def ask(self, method: str, path: str, body: str | None) -> None:
        """Send a request."""
        content = (body or "").encode()
        head = (
            f"{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {CODE}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(content)}\r\n\r\n"
        )
        self.asks_at, self.got, self.asked_at = None, b"", time.perf_counter()
        self.socket.sendall(head.encode() + content)

    def hear(self) -> float | None:
        """Take in what has come; return the seconds it took once the answer is whole."""
        piece = self.socket.recv(1 << 17)
        assert piece, "the server closed the connection"
        self.got += piece
        head, end, body = self.got.partition(b"\r\n\r\n")
        if not end or len(body) < int(_LENGTH.search(head)[1]):  # type: ignore[index]
            return None
        now = time.perf_counter()
        assert head.split(b" ", 2)[1] in (b"200", b"201"), head
        self.asks_at = now + self.pause_s
        return now - self.asked_at


def load(port: int, seconds: float, ask: Callable[[], tuple[str, str, str | None]],
         pause_s: float = 0.0) -> Load:  # fmt: skip
    """Let the clients ask for some seconds; one thread serves them all, so as to cost little."""
    time.sleep(SETTLING_S)  # until the server has seen that the clients before these left
    clients = [Client(port, pause_s) for _ in range(CLIENTS)]
    found, begun = Load(), time.perf_counter()
    with selectors.DefaultSelector() as heard:
        for client in clients:
            heard.register(client.socket, selectors.EVENT_READ, client)
        while (now := time.perf_counter()) < begun + seconds:
            for client in clients:
                if client.asks_at is not None and client.asks_at <= now:
                    client.ask(*ask())
            due = [client.asks_at - now for client in clients if client.asks_at is not None]
            for key, _ in heard.select(max(0.0, min(due, default=1.0))):
                taken_s = key.data.hear()
                if taken_s is not None:
                    found.taken_s.append(taken_s)
    found.wall_s = time.perf_counter() - begun
    for client in clients:
        client.socket.close()
    return found


def serve(path: Path) -> Iterator[int]:
    """Run the server and yield its port."""
    code = "from wiretrack.cli import main; main()"
    arguments = ["--db", str(path), "serve", "--port", "0", "--code", CODE, "--json"]
    with subprocess.Popen(
        [sys.executable, "-c", code, *arguments], stdout=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout is not None
        lines = itertools.takewhile(lambda line: line != "}\n", server.stdout)
        shown = json.loads("".join(lines) + "}")
        yield int(shown["address"].rpartition(":")[2])
        server.terminate()


def measure(port: int, count: int, seconds: float) -> None:
    """Print what each kind of request takes."""
    rng = random.Random()  # other conductors in each run: readings posted before slow none of them

    def any_tag() -> str:
        return tag_of(rng.randrange(count))

    def reading() -> tuple[str, str, str]:
        sent = {"id": str(uuid.uuid4()), "kind": "continuity", "subject": any_tag(),
                "value": "0.14 ohm"}  # fmt: skip
        return "POST", "/api/readings", json.dumps(sent)

    kinds: dict[str, Callable[[], tuple[str, str, str | None]]] = {
        "record as JSON": lambda: ("GET", f"/api/conductors/{any_tag()}", None),
        "record page": lambda: ("GET", f"/{any_tag()}", None),
        "reading posted": reading,
    }
    for name, ask in kinds.items():
        print(f"{name:16} without pause   {load(port, seconds, ask).told()}")
        print(f"{name:16} 4 a second each {load(port, seconds, ask, 0.25).told()}")


def main() -> None:
    """Build, serve, measure."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 5.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(sys.argv[3] if len(sys.argv) > 3 else f"{folder}/benchmark.db")
        begun = time.perf_counter()
        if not path.exists():
            fill(path, count)
        print(f"{count} conductors, {path.stat().st_size / 1e6:.0f} MB, built in"
              f" {time.perf_counter() - begun:.0f} s; {CLIENTS} clients")  # fmt: skip
        for port in serve(path):
            measure(port, count, seconds)


if __name__ == "__main__":
    main()
