# SPDX-License-Identifier: MIT
"""The one-page record that a ring-out leaves: what was joined and read, and what follows."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING, Any

from wiretrack.interchange.files import write_file
from wiretrack.tasks.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.registry.ringouts import StoredAnswer
    from wiretrack.registry.store import Registry

NOT_STATED = "not stated"


def ringout_record(registry: Registry, pull: str) -> dict[str, Any]:
    """Return the record of the latest ring-out of a pull, ready to be shown or printed."""
    ringing = Ringing.latest(registry, pull)
    status, record = ringing.status(), ringing.record
    return {
        "pull": record.pull,
        "near": record.near,
        "far": record.far,
        "begun": record.at,
        "ended": record.answers[-1].at if record.answers else None,
        "instrument": record.settings.get("instrument"),
        "references": record.settings["references"],
        "steps": [_step(ringing, stored) for stored in record.answers],
        "conclusions": [
            {**match, "why": ringing.why(match["near"])} for match in status["matches"]
        ],
        **{key: status[key] for key in _KEPT},
    }


_KEPT = ("finished", "walks", "joins", "probes", "unresolved", "faults", "questions", "notes")


def write_record(found: dict[str, Any], out: Path) -> None:
    """Write the record as one printable HTML page, whole or not at all."""
    write_file(out, [record_page(found)])


def record_page(found: dict[str, Any]) -> str:
    """Return the record as one HTML page that prints on one sheet where it can."""
    title = f"Ring-out of {found['pull']}, {found['near']} to {found['far']}"
    facts = [
        ("begun", found["begun"]),
        ("last step", found["ended"] or NOT_STATED),
        ("instrument", found["instrument"] or NOT_STATED),
        ("references", ", ".join(found["references"]) or "none"),
        ("effort", f"{found['walks']} walks, {found['joins']} joins, {found['probes']} touches"),
        ("state", "finished" if found["finished"] else "not finished"),
    ]
    matches = [(m["near"], m["far"], " ".join(m["why"])) for m in found["conclusions"]]
    steps = [(s["number"], s["told"], s["answer"], s["at"]) for s in found["steps"]]
    parts = [
        f"<h1>{html.escape(title)}</h1>",
        _rows((), facts),
        "<h2>Conclusions</h2>",
        _rows(("tag", "end mark", "because"), matches),
        *_list("Not identified", found["unresolved"]),
        *_list("Faults", [f"{f['kind']}: {f['evidence']}" for f in found["faults"]]),
        *_list("Readings to look at again", [q["reason"] for q in found["questions"]]),
        *_list("Notes", found["notes"]),
        "<h2>Steps</h2>",
        _rows(("", "step", "answer", "at"), steps),
        "<p class=sign>Name, date, signature</p>",
    ]
    return _PAGE.format(title=html.escape(title), body="\n".join(parts))


_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<meta name="viewport" content="width=device-width">
<style>
body {{ font: 10pt/1.3 sans-serif; margin: 12mm; color: #000; background: #fff; }}
h1 {{ font-size: 15pt; }} h2 {{ font-size: 12pt; margin: 4mm 0 1mm; }}
table {{ border-collapse: collapse; width: 100%; }}
td, th {{ text-align: left; vertical-align: top; padding: 0.5mm 3mm 0.5mm 0;
  border-bottom: 0.2mm solid #999; }}
.sign {{ margin-top: 15mm; border-top: 0.3mm solid #000; width: 80mm; }}
@page {{ margin: 10mm; }} @media print {{ body {{ margin: 0; font-size: 9pt; }} }}
</style></head><body>
{body}
</body></html>
"""


def _rows(header: tuple[str, ...], rows: list[Any]) -> str:
    head = "".join(f"<th>{html.escape(name)}</th>" for name in header)
    lines = [f"<tr>{head}</tr>"] if header else []
    for row in rows:
        cells = "".join(f"<td>{html.escape(str(cell))}</td>" for cell in row)
        lines.append(f"<tr>{cells}</tr>")
    return f"<table>{''.join(lines)}</table>"


def _list(title: str, lines: list[str]) -> list[str]:
    if not lines:
        return []
    items = "".join(f"<li>{html.escape(line)}</li>" for line in lines)
    return [f"<h2>{html.escape(title)}</h2><ul>{items}</ul>"]


def _step(ringing: Ringing, stored: StoredAnswer) -> dict[str, Any]:
    told = ringing.told(stored.step)
    groups = stored.step.get("groups", ())
    fitted = stored.step.get("resistors", ())
    details = [" + ".join(group) for group in groups]
    details += [f"{one['end']}: {one['ohms']:g} ohm" for one in fitted]
    return {
        "number": stored.number,
        "step": stored.step,
        "told": " ".join((told, "; ".join(details))).strip(),
        "answer": _answer(stored.answer),
        "at": stored.at,
        "superseded": stored.superseded,
    }


def _answer(answer: dict[str, Any]) -> str:
    if "ohms" in answer:
        return "open (OL)" if answer["ohms"] == "OL" else f"{answer['ohms']:g} Ω"
    if "closed" in answer:
        return "closed" if answer["closed"] else "open"
    return "done"
