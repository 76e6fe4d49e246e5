# SPDX-License-Identifier: MIT
"""Every reader of outside data, fed with what a fuzzer makes of examples; run by hand.

``python -m tests.keeping.fuzzing READER SECONDS`` mutates the examples, led by what code they reach
where atheris is installed, blindly where it isn't. What a reader does wrong is kept in `findings`,
and played by `test_fuzzing` for ever.

A reader answers or refuses: any error but ours, a status of 500, an answer that takes longer than
`PATIENCE_S` is a finding.
"""

from __future__ import annotations

import contextlib
import functools
import io
import json
import os
import random
import shutil
import sys
import tempfile
import time
import traceback
import zipfile
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import openpyxl
import qrcode

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from flask.testing import FlaskClient

loading: contextlib.AbstractContextManager[Any] = contextlib.nullcontext()
if __name__ == "__main__":
    with contextlib.suppress(ImportError):
        import atheris

        loading = atheris.instrument_imports(include=["wiretrack"])

with loading:
    import wiretrack
    from tests.pump import L1, PUMP
    from wiretrack.cli.group import run
    from wiretrack.electrical import accuracy, colours, dimensions, quantities, sizes
    from wiretrack.errors import WiretrackError
    from wiretrack.exchange.read import read_site
    from wiretrack.labels.scan import read_codes
    from wiretrack.labels.stocks import load_stocks
    from wiretrack.model.tags import parse_tag, read_aloud, read_payload
    from wiretrack.pictures import to_keep
    from wiretrack.ringout import answers, parsing
    from wiretrack.store.health import problems
    from wiretrack.store.rescue import rescue
    from wiretrack.store.store import open_registry
    from wiretrack.tasks.binder.folder import read_list
    from wiretrack.tasks.change.merging import merge
    from wiretrack.tasks.describe.sites import load_site, new_site, verify_file
    from wiretrack.web.access import Code, Settings
    from wiretrack.web.app import create_app

ROOT, FINDINGS = Path(__file__).parents[2], Path(__file__).with_name("findings")
PATIENCE_S = 60.0
CODE = "lantern-moss-17"
SHEET = "xl/worksheets/sheet1.xml"


@functools.cache
def folder() -> Path:
    """A folder of this process alone."""
    return Path(tempfile.mkdtemp(prefix="wiretrack-fuzz-"))


@functools.cache
def registry() -> Path:
    """A small registry with a reading in it."""
    file, db = folder() / "pump.json", folder() / "pump.db"
    file.write_text(json.dumps(PUMP), "utf-8")
    new_site(db, "Example")
    with open_registry(db) as made:
        load_site(made, file)
    with wiretrack.open(db) as site:
        site.log(L1, "continuity", "0.31")
    with open_registry(db) as made:
        made.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return db


@functools.cache
def client() -> FlaskClient:
    """A phone that carries the code."""
    db = Path(shutil.copy(registry(), folder() / "web.db"))
    return create_app(Settings(db=db, codes=(Code(CODE),))).test_client()


def in_a_file(suffix: str, data: bytes) -> Path:
    """Write the data into a file of that kind."""
    file = folder() / f"outside{suffix}"
    for end in ("", "-wal", "-shm"):
        Path(f"{file}{end}").unlink(missing_ok=True)
    file.write_bytes(data)
    return file


def a_copy() -> Path:
    """A registry that may be written to."""
    return Path(shutil.copy(registry(), in_a_file(".db", b"")))


def each_of(*readers: Callable[[str], object]) -> Callable[[bytes], None]:
    """Give a text to each of these readers, whether one before it refused or not."""

    def read(data: bytes) -> None:
        text = data.decode("utf-8", "surrogateescape")
        for reader in readers:
            with contextlib.suppress(WiretrackError):
                reader(text)

    return read


def site_file(data: bytes, suffix: str) -> None:
    """Read a site file, and load it into a copy of the registry where it is one."""
    file = in_a_file(suffix, data)
    read_site(file)
    new = in_a_file(".new.db", b"")
    new.unlink()
    new_site(new, "New")
    with open_registry(new) as made:
        load_site(made, file)


def sheet(data: bytes) -> None:
    """Read a workbook whose first sheet is this."""
    spoilt_book = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook())) as whole:
        with zipfile.ZipFile(spoilt_book, "w") as book:
            for name in whole.namelist():
                book.writestr(name, data if name == SHEET else whole.read(name))
    site_file(spoilt_book.getvalue(), ".xlsx")


def first_sheet() -> bytes:
    """Return the first sheet of a workbook."""
    with zipfile.ZipFile(io.BytesIO(workbook())) as book:
        return book.read(SHEET)


def other_registry(data: bytes) -> None:
    """Prove a damaged registry, merge it, rescue it, ask it."""
    file, new = in_a_file(".other.db", data), folder() / "new.db"
    for ours in (
        lambda: verify_file(file),
        lambda: merged(file),
        lambda: rescue(file, new),
        lambda: rescue(file, new, unproved=True),
        lambda: asked(file),
    ):
        new.unlink(missing_ok=True)
        with contextlib.suppress(WiretrackError):
            ours()


def merged(other: Path) -> None:
    """Merge a registry into a copy of ours, which is whole afterwards."""
    with open_registry(a_copy()) as ours:
        with contextlib.suppress(WiretrackError):
            merge(ours, other)
        assert problems(ours) == []


def asked(file: Path) -> None:
    """Ask a registry, as people do, and write to it."""
    for words in (["show", L1], ["punchlist"], ["check"], ["history"], ["dump"], ["test", "log",
                  L1, "--kind", "continuity", "0.3"]):  # fmt: skip
        command(["--db", str(file), *words])


def command(words: list[str]) -> None:
    """Run a command; what no one foresaw ends in 4 and a trace."""
    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = run(words)
    assert status in (0, 1, 2, 3), f"{words}: {status}, {err.getvalue()[-2000:]}"


def command_line(data: bytes) -> None:
    """Run the words of a command on a copy of the registry."""
    words = data.decode("utf-8", "replace").replace("\0", "").split("\n")
    if not {"serve", "demo", "backup"} & set(words) and not any("/" in word for word in words):
        command(["--db", str(a_copy()), *words])


def request(data: bytes) -> None:
    """Send a request to the server: a line with the method, the path and the type, then a body."""
    head, _, body = data.partition(b"\n")
    method, path, kind = (*head.decode("latin-1").split(" ", 2), "", "")[:3]
    if method not in ("GET", "POST", "PUT", "PATCH", "DELETE", "HEAD"):
        return
    sent = {"Authorization": f"Bearer {CODE}", "Content-Type": kind or "application/json"}
    try:
        answer = client().open("/" + path.lstrip("/"), method=method, data=body, headers=sent)
    except (UnicodeError, ValueError) as error:  # no client can send that
        if "wiretrack/" in "".join(traceback.format_exception(error)):
            raise
        return
    text = answer.get_data()
    answer.close()
    assert answer.status_code < 500, text[:2000]


def ring_out_answer(data: bytes) -> None:
    """Read an answer or a step of a ring-out."""
    try:
        said = json.loads(data)
    except (ValueError, RecursionError):
        return
    if isinstance(said, dict):
        for reader in (answers.parse_done, answers.parse_heard, answers.parse_dead,
                       lambda one: answers.parse_touch(one, on_diode_range=True),
                       parsing.parse_step):  # fmt: skip
            with contextlib.suppress(WiretrackError):
                reader(said)


QUANTITIES = [
    getattr(quantities, name) for name in dir(quantities)
    if name.startswith("parse_") and name != "parse_resolution"
]  # fmt: skip
READERS: dict[str, Callable[[bytes], object]] = {
    "json": lambda data: site_file(data, ".json"),
    "csv": lambda data: site_file(data, ".csv"),
    "workbook": lambda data: site_file(data, ".xlsx"),
    "sheet": sheet,
    "registry": other_registry,
    "picture": lambda data: (read_codes(data), to_keep("it.png", data)),
    "stocks": lambda data: load_stocks(in_a_file(".stock.json", data)),
    "texts": each_of(
        *QUANTITIES, sizes.parse_size, accuracy.parse_accuracy, colours.parse_colour,
        dimensions.parse_trade_size, parse_tag, read_aloud, read_payload, read_list,
    ),
    "answer": ring_out_answer,
    "request": request,
    "command": command_line,
}  # fmt: skip


def examples(name: str) -> list[bytes]:
    """Return what is well formed, for the fuzzer to spoil."""
    made: dict[str, Callable[[], Iterable[bytes]]] = {
        "json": lambda: [json.dumps(PUMP).encode(), (ROOT / "demo_db/barn.json").read_bytes()],
        "csv": lambda: [b"tag,circuit,function,size,from,to\n,PUMP,L1,4 mm2,MDB/Q4:1,PH1\n",
                        b"enclosure;kind\nMDB;panelboard\n"],
        "workbook": lambda: [workbook()],
        "sheet": lambda: [first_sheet()],
        "registry": lambda: [registry().read_bytes()],
        "picture": lambda: [picture("PNG"), picture("JPEG"), b"%PDF-1.4\n%%EOF"],
        "stocks": lambda: [(ROOT / "wiretrack/labels/data/stocks.json").read_bytes()],
        "texts": lambda: [b"4 mm2", b"12 AWG", b"0,31 ohm", b">2 Gohm", b"20 C", b"1/0", b"GN/YE",
                          b"6TS-TT6B", b"1.5 % + 3 digits", b'3/4"', b"WT:6TSTT6B", b"-3.2e4 kV"],
        "answer": lambda: [b'{"ohms": 0.43}', b'{"done": true}', b'{"heard": "loud"}',
                           b'{"step": "probe", "at": "far", "between": ["1", "2"]}'],
        "request": lambda: requests(),
        "command": lambda: ["\n".join(words).encode() for words in (
            ["show", L1], ["find", "pump"], ["test", "log", L1, "--kind", "insulation", ">1 G"],
            ["set", L1, "length=61 m"], ["add", "conductor", "N", "circuit=PUMP", "size=4 mm2"],
            ["land", L1, "PH1", "--capped"], ["ringout", "plan", "P1"], ["label", "due"])],
    }  # fmt: skip
    return list(made[name]())


@functools.cache
def workbook() -> bytes:
    """Return a workbook with conductors, as people fill one."""
    book = openpyxl.Workbook()
    page = book.active
    page.title = "conductors"
    for row in (
        ("tag", "circuit", "function", "size", "from", "to", "length"),
        ("", "PUMP", "L1", "4 mm2", "MDB/Q4:1", "PH1", 61.5),
        ("", "PUMP", "PE", "4 mm2", "MDB/PE:4", "PH1", "200 ft"),
    ):
        page.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def picture(kind: str) -> bytes:
    """Return a picture of a code."""
    out = io.BytesIO()
    qrcode.make(L1).get_image().convert("RGB").save(out, kind)
    return out.getvalue()


def requests() -> list[bytes]:
    """Return requests to each address that the server has."""
    reading = {"id": "6f1c1c1e-58a0-4d3a-9a39-0c4a8b1b2f10", "kind": "continuity", "subject": L1,
               "value": "0.32 ohm", "at": "2026-05-02T10:15:00+02:00"}  # fmt: skip
    client()
    found = []
    for rule in client().application.url_map.iter_rules():
        path = rule.rule.replace("<tag>", L1)
        for method in sorted((rule.methods or set()) & {"GET", "POST", "PATCH", "DELETE"}):
            form = b"a=1&value=0.3&kind=continuity" if "/api/" not in path else b""
            kind = "application/x-www-form-urlencoded" if form else "application/json"
            body = b"" if method == "GET" else form or json.dumps(reading).encode()
            found.append(f"{method} {path}?q=1 {kind}\n".encode() + body)
    return found


def wrong_with(reader: Callable[[bytes], object], data: bytes) -> str:
    """Return what a reader does wrong with data; empty where it answers or refuses."""
    began = time.monotonic()
    try:
        reader(data)
    except WiretrackError:
        pass
    except Exception:
        return traceback.format_exc()
    taken_s = time.monotonic() - began
    return f"It took {taken_s:.0f} s" if taken_s > PATIENCE_S else ""


def keep(name: str, data: bytes, fault: str, seen: set[str]) -> None:
    """Keep what a reader does wrong, once for each place in the code."""
    place = "".join(line for line in fault.splitlines() if "File " in line)[-300:]
    if place in seen:
        return
    seen.add(place)
    FINDINGS.mkdir(exist_ok=True)
    (FINDINGS / f"{name}-{sha256(data).hexdigest()[:8]}").write_bytes(data)
    print(f"{name}: {data[:200]!r}\n{fault}", flush=True)


def spoilt(chance: random.Random, seeds: list[bytes]) -> bytes:
    """Return an example with a few bytes changed, cut out, doubled or taken from another one."""
    data = bytearray(chance.choice(seeds))
    for _ in range(chance.randint(1, 6)):
        at = chance.randint(0, len(data))
        until = at + chance.choice((1, 1, 2, 8, 64))
        other = chance.choice(seeds)
        start = chance.randint(0, len(other))
        data[at:until] = chance.choice((
            b"", bytes([chance.randrange(256)]), data[at:until] * 2, other[start : start + 16],
            chance.choice((b"9" * 30, b"-1", b"\xff", b"\0", b"null", b"[[", "\u0665".encode())),
        ))  # fmt: skip
    return bytes(data)


def main(name: str, seconds: str) -> None:
    """Feed a reader for so long."""
    reader, seeds, seen, runs = READERS[name], examples(name), set[str](), 0

    def one(data: bytes) -> None:
        nonlocal runs
        runs += 1
        if fault := wrong_with(reader, data):
            keep(name, data, fault, seen)

    until = time.monotonic() + float(seconds)
    if isinstance(loading, contextlib.nullcontext) or name in ("registry", "picture"):
        chance = random.Random(int(os.environ.get("SEED", "0")))
        while time.monotonic() < until:
            one(spoilt(chance, seeds))
        print(f"{name}: {runs} examples, {len(seen)} findings", flush=True)
        return
    corpus = folder() / "corpus"
    corpus.mkdir()
    for number, seed in enumerate(seeds):
        (corpus / str(number)).write_bytes(seed)

    def until_then(data: bytes) -> None:
        one(data)
        if time.monotonic() > until:
            print(f"{name}: {runs} examples led by coverage, {len(seen)} findings", flush=True)
            os._exit(0)

    atheris.Setup([sys.argv[0], str(corpus), "-max_len=4096", "-timeout=120"], until_then)
    atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])
