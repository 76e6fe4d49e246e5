# SPDX-License-Identifier: MIT
"""Pages and API of two servers side by side: a crawl, forms, and posts that are always the same."""

from __future__ import annotations

import http.client
import json
import re
import subprocess
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from random import Random
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from tests.differential.commands import Site, codes, of

if TYPE_CHECKING:
    from pathlib import Path

UNSAID = {'font-weight="normal"', 'x="0"', 'y="0"', 'text-anchor="start"', 'fill="none"'}
TAG = re.compile(r'<([\w:-]+)((?: [\w:-]+="[^"]*")+)( ?/?)>')
CODE = "differential"
SHOWN = ("content-type", "location", "cache-control", "content-security-policy", "allow")
LINK = re.compile(r'(?:href|src|action)="([^"#]*)')
TOKEN = re.compile(r'name="form[-_]token" (?:content|value)="([^"]+)"')
SEEN = re.compile(r'name="(seen|place|end|id|number|enclosure)" value="([^"]*)"')
Compare = Callable[[str, str, str], None]


@dataclass
class Server:
    """One server of a registry, and the session of somebody signed in there."""

    script: Path
    db: Path
    token: str = ""
    cookies: dict[str, str] = field(default_factory=dict)

    def __enter__(self) -> Server:
        command = [str(self.script), "--db", str(self.db), "serve", "--port", "0", "--code", CODE]
        self.process = subprocess.Popen(
            [*command, "--json"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self.process.stdout
        shown = ""
        while not shown.endswith("\n}\n"):
            if not (more := self.process.stdout.readline()):
                raise SystemExit(f"{self.script} doesn't serve {self.db}")
            shown += more
        self.port = int(json.loads(shown)["address"].rpartition(":")[2])
        return self

    def __exit__(self, *_: object) -> None:
        self.process.terminate()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()

    def ask(self, method: str, path: str, body: str | None = None, **headers: str) -> str:
        """Return the answer to a request: status, some headers, body."""
        asked = {"Host": f"127.0.0.1:{self.port}", **headers}
        if self.cookies and "Authorization" not in headers:
            asked["Cookie"] = "; ".join(f"{k}={v}" for k, v in self.cookies.items())
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        line.request(method, path, body and body.encode(), asked)
        got = line.getresponse()
        content = got.read()
        line.close()
        for name, value in got.getheaders():
            if name.lower() == "set-cookie":
                key, _, rest = value.partition("=")
                self.cookies[key] = rest.partition(";")[0]
        shown = [f"{n.lower()}: {v}" for n, v in got.getheaders() if n.lower() in SHOWN]
        text = content.decode("utf-8", "replace")
        if found := TOKEN.search(text):
            self.token = found[1]
        return "\n".join([str(got.status), *sorted(shown), "", readable(text)])

    def get(self, path: str) -> str:
        """Return a page."""
        return self.ask("GET", path)

    def post(self, path: str, **fields: str) -> str:
        """Send a form, with the hidden fields of the page read last."""
        kind = {"Content-Type": "application/x-www-form-urlencoded"}
        return self.ask("POST", path, urlencode({"form_token": self.token, **fields}), **kind)

    def api(self, path: str, document: Any) -> str:
        """Send a JSON document."""
        text = document if isinstance(document, str) else json.dumps(document)
        kind = {"Content-Type": "application/json", "Authorization": f"Bearer {CODE}"}
        return self.ask("POST", path, text, **kind)


def readable(text: str) -> str:
    """Return JSON sorted by its keys, and HTML with a tag a line."""
    try:
        return json.dumps(json.loads(text), indent=1, sort_keys=True, ensure_ascii=False)
    except ValueError:
        text = TAG.sub(_sorted, text.replace("<wbr>", ""))
        return re.sub(r">\s*<", ">\n<", text)


def _sorted(tag: re.Match[str]) -> str:
    """Return a tag with its attributes in order; what goes without saying is left out."""
    attributes = re.sub(r"(?<![\w-])([ML]?-?\d+)\.0\b", r"\1", tag[2])
    said = set(re.findall(r'[\w:-]+="[^"]*"', attributes)) - UNSAID
    return f"<{tag[1]} {' '.join(sorted(said))}{tag[3]}>" if said else f"<{tag[1]}{tag[3]}>"


def compared(old: Server, new: Server, site: Site, most: int, seed: int, compare: Compare) -> None:
    """Ask both servers for the same and hand each pair of answers on to be compared."""

    def both(name: str, ask: Callable[[Server], str]) -> str:
        first, second = ask(old), ask(new)
        compare(name, first, second)
        return first

    both("GET / signed out", lambda server: server.get("/"))
    both("GET /api/find signed out", lambda server: server.get("/api/find?q=x"))
    both("POST /sign-in wrong", lambda server: server.post("/sign-in", code="wrong", name="x"))
    for server in (old, new):
        server.get("/sign-in")
    both("POST /sign-in", lambda server: server.post("/sign-in", code=CODE, name="roof"))
    crawl(both, site, most, Random(seed))
    for document in readings(site, Random(seed)):
        name = f"POST /api/readings {json.dumps(document)[:160]}"
        both(name, partial(Server.api, path="/api/readings", document=document))
    forms(both, site, Random(seed))
    crawl(both, site, most // 4, Random(seed + 1))


def crawl(both: Callable[..., str], site: Site, most: int, by: Random) -> None:
    """Get every page that links from the first one reach, and the API's records."""
    tags, circuits = codes(site, "conductors"), codes(site, "circuits")
    boxes, raceways = codes(site, "enclosures"), codes(site, "raceways")
    starts = ["/", "/map", "/ringouts", "/tests", "/punchlist", "/trouble", "/faults", "/nothing"]
    starts += [f"/find?q={word}" for word in ("barn", "dc", tags[0], "M1", "nothing", "")]
    starts += [f"/api/{rest}" for rest in ("openapi.json", "session", "punchlist", "find?q=barn")]
    starts += [
        f"/api/conductors/{tag}" for tag in (*by.sample(tags, min(12, len(tags))), "000-0000", "7")
    ]
    starts += [f"/api/circuits/{quote(code, safe='')}/tests" for code in circuits[:12]]
    starts += [f"/api/ringouts/{code}" for code in codes(site, "pulls")[:6]]
    starts += [
        f"/{kind}/{quote(code, safe='')}"
        for kind, found in (
            ("circuits", circuits),
            ("enclosures", boxes),
            ("raceways", raceways),
            ("pulls", codes(site, "pulls")),
            ("tests", circuits),
            ("strings", circuits),
        )
        for code in found[:8]
    ]
    starts += [
        f"/devices/{quote(d['enclosure'], safe='')}/{quote(d['code'], safe='')}"
        for d in of(site, "devices")[:15]
    ]
    starts += [f"/faults/{t}?method=along&along=1.8" for t in tags[:3]]
    starts += [
        f"/readings/new?subject={t}&kind={k}"
        for t in tags[:2]
        for k in ("continuity", "insulation", "voltage", "loop")
    ]
    starts += [f"/map?around={boxes[0]}&lit={tags[0]}", "/circuits/NOPE", "/BOX/" + boxes[0]]
    waiting, seen = list(dict.fromkeys(starts)), set(starts)
    for _ in range(most):
        if not waiting:
            return
        path = waiting.pop(0)
        page = both(f"GET {path}", lambda server, path=path: server.get(path))
        for link in LINK.findall(page):
            link = link.replace("&amp;", "&")
            if link.startswith("/") and not link.startswith("//") and link not in seen:
                seen.add(link)
                waiting.insert(by.randrange(len(waiting) + 1), link)


def readings(site: Site, by: Random) -> list[Any]:
    """Return readings to post: stored, repeated, clashing and bad ones."""
    tags, found = codes(site, "conductors"), list[Any]()
    for kind, value in (("continuity", "0.31 ohm"), ("insulation", ">2000M"), ("voltage", "-231 V"),
                        ("loop", "0.4"), ("continuity", "OL")):  # fmt: skip
        good = {"id": str(uuid.UUID(int=by.getrandbits(128), version=4)), "kind": kind}
        good |= {"subject": by.choice(tags), "value": value, "at": "2026-05-02T10:15:00+02:00"}
        if kind == "insulation":
            good |= {"against": "PE", "test_voltage": "500 V", "temp": "21 C"}
        bad = [
            {**good, key: wrong}
            for key, wrong in (
                ("value", "abc"),
                ("value", 7),
                ("kind", "smell"),
                ("subject", "000-0000"),
                ("id", "7"),
                ("at", "yesterday"),
                ("temp", "9 V"),
                ("against", "nothing"),
                ("nosuch", "x"),
            )
        ]
        bad = [
            {
                **one,
                "id": one["id"]
                if one["id"] == "7"
                else str(uuid.UUID(int=by.getrandbits(128), version=4)),
            }
            for one in bad
        ]
        found += [
            good,
            good,
            {**good, "value": "0.5"},
            *bad,
            {k: v for k, v in good.items() if k != "value"},
        ]
    return [*found, [], "no json", {}]


def forms(both: Callable[..., str], site: Site, by: Random) -> None:
    """Send the pages' forms: landings, labels, readings, a ring-out and a search by phone."""

    def send(path: str, page: str = "", **fields: str) -> str:
        def ask(server: Server) -> str:
            hidden = dict(SEEN.findall(server.get(page))) if page else {}
            return server.post(path, **{**hidden, **fields})

        return both(f"POST {path} {fields}", ask)

    wires = by.sample(of(site, "conductors"), min(6, len(of(site, "conductors"))))
    for wire in wires:
        tag, end = wire["tag"], by.choice(["from", "to"])
        box, where = wire[end]["enclosure"], f"/ends/{wire['tag']}"
        for fields in ({"state": "capped"}, {"state": "landed", "terminal": "TX:1"},
                       {"state": "landed", "terminal": ""}, {"state": "flying"}):  # fmt: skip
            send(where, end=end, enclosure=box, **fields)
        place = f"{box} TX:1"
        send(where, end=end, enclosure=box, state="landed", terminal="TX:1", sure="1")
        for label in ("by-hand", "off", "by-hand", "on", "off", "nonsense"):
            send(f"{where}/label", end=end, place=place, label=label)
        for kind, value in (
            ("continuity", "0.3"),
            ("insulation", "200"),
            ("loop", "x"),
            ("voltage", "230"),
        ):
            more = {"circuit": wire["circuit"], "cautions": "1", "at": "2026-05-02T10:15"}
            send(
                "/readings/new",
                subject=tag,
                kind=kind,
                value=value,
                against="PE",
                test_voltage="500",
                **more,
            )
        both(f"GET /{tag} after", lambda server, tag=tag: server.get(f"/{tag}"))
    ringing_out(both, send, site, by)
    for wire in wires[:2]:
        send("/searches", symptom="dead-circuit", what=wire["tag"])
        step = f"/searches/{quote(wire['circuit'], safe='')}"
        send(f"{step}/cautions")
        for outcome in ("yes", "no", "cant", "perhaps", "no"):
            send(f"{step}/answers", f"{step}/step", outcome=outcome, value="231 V", note="seen")
        send(f"{step}/corrections", f"{step}", number="1", outcome="no")
        send(f"{step}/undo", f"{step}")
    send("/searches", symptom="bad smell", what="NOPE")


def ringing_out(both: Callable[..., str], send: Callable[..., str], site: Site, by: Random) -> None:
    """Ring a pull out by phone, with answers as they come."""
    wires = [wire for wire in of(site, "conductors") if wire.get("pull")]
    for wire in by.sample(wires, min(2, len(wires))):
        base = f"/ringouts/{quote(wire['pull'], safe='')}"
        ends = {"near": wire["from"]["enclosure"], "far": wire["to"]["enclosure"]}
        send(f"{base}/begin", raceway="1", again="1", **ends)
        for typed in (
            "done",
            "done",
            "c",
            "o",
            "done",
            "0.4",
            "skip",
            "nonsense",
            "done",
            "c",
            "o",
        ):
            send(f"{base}/answers", f"{base}/step", typed=typed)
        send(f"{base}/corrections", f"{base}/step", typed="c", number="3")
        send(f"{base}/undo", f"{base}/step")
        send(f"{base}/gear", f"{base}/step", crew="2", resistors="100,220")
        for page in ("step", "log", "again"):
            both(f"GET {base}/{page}", lambda server, at=f"{base}/{page}": server.get(at))
