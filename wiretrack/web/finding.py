# SPDX-License-Identifier: MIT
"""Finding one's way: words, the map, what is joined with what, what is still open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import (
    Blueprint,
    Response,
    abort,
    redirect,
    render_template,
    request,
    send_from_directory,
)
from markupsafe import Markup

from wiretrack.errors import BadInputError, NotFoundError, TagError
from wiretrack.late import dataclass
from wiretrack.manual import PICTURES, html, topics
from wiretrack.model.tags import format_tag, read_aloud
from wiretrack.render.records import drawing_markup
from wiretrack.store.lists import AT_ONCE
from wiretrack.store.searching import find, resolve
from wiretrack.tasks.find.site_map import FARTHEST, WITHIN, map_around, route_codes
from wiretrack.tasks.find.tracing import joined_with
from wiretrack.tasks.report.punchlist import punch_part
from wiretrack.tasks.trouble.isolation import isolation
from wiretrack.web.registries import for_reading
from wiretrack.web.shared import address_of, number_asked, said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from werkzeug.wrappers import Response as AnyResponse

    from wiretrack.store.store import Registry
    from wiretrack.tasks.trouble.isolation import OpenedDevice, Wire

pages = Blueprint("finding", __name__)
POINTS_AT_ONCE = 200


@pages.get("/")
@pages.get("/find")
def look_up() -> str | AnyResponse:
    """Show what carries the words; a tag, or a code that is typed in full, leads to its page."""
    typed = request.args.get("q", "").strip()
    if not typed:
        return render_template("find.html", q="", hits=None, fault=None)
    with for_reading() as registry:
        place, fault = _named(registry, typed)
        if place:
            return redirect(place, 303)
        hits = find(registry, typed)
    return render_template("find.html", q=typed, hits=hits, fault=None if hits else fault)


def _named(registry: Registry, typed: str) -> tuple[str | None, str | None]:
    """Return the page of what is called so, or why there is none."""
    try:
        named = resolve(registry, typed)
    except (NotFoundError, TagError) as error:
        return None, said(error)
    code = format_tag(named.code) if named.what == "conductor" else named.code
    if read_aloud(typed) == named.code:  # the page says what was meant
        code = typed
    return address_of(named.what, code), None


@pages.get("/punchlist")
def punchlist() -> str:
    """Show how much of each kind is open in a part of the circuits, and the rows of one kind."""
    after, first = number_asked("after"), number_asked("first")
    with for_reading() as registry:
        part = punch_part(registry, after)
    counts: dict[str, int] = {}
    for row in part.rows:
        counts[row.what] = counts.get(row.what, 0) + 1
    chosen = request.args.get("what")
    if chosen not in counts:
        chosen = next(iter(counts), None)
    shown = [row for row in part.rows if row.what == chosen]
    return render_template(
        "punchlist.html",
        part=part,
        after=after,
        counts=counts,
        chosen=chosen,
        rows=shown[first : first + POINTS_AT_ONCE],
        more=first + POINTS_AT_ONCE if len(shown) > first + POINTS_AT_ONCE else None,
    )


@pages.get("/map")
def overview() -> str:
    """Show the drawing; `lit` names a conductor, pull or raceway whose route is lit up.

    Of a large site a part is drawn: `around` names the enclosure that it is about, `within` says
    how many raceways around it.
    """
    typed = {name: request.args.get(name, "").strip() for name in ("lit", "around")}
    within, lit = number_asked("within") or WITHIN, list[str]()
    faults: dict[str, str] = {}
    with for_reading() as registry:
        if typed["lit"]:
            try:
                lit = route_codes(registry, typed["lit"])
            except BadInputError as error:
                faults["lit"] = said(error)
        try:
            drawing = map_around(registry, lit, around=typed["around"], within=within)
        except BadInputError as error:
            faults["around"] = said(error)
            drawing = map_around(registry, lit, within=within)
    return render_template(
        "map.html", drawing=drawing, typed=typed, within=within, lit=lit, faults=faults,
        farthest=FARTHEST,
    )  # fmt: skip


@pages.get("/trees/<path:what>")
def tree(what: str) -> str:
    """Show all that is joined with a conductor or terminal."""
    with for_reading() as registry:
        found = joined_with(registry, what)
    picture = drawing_markup(found.svg())
    return render_template("tree.html", what=what, found=found, picture=picture)


@pages.get("/devices/<enclosure>/<device>")
def device(enclosure: str, device: str) -> str | tuple[str, int]:
    """Show what goes dead and what stays live when a device is opened."""
    typed = request.args.get("sources", "")
    sources = [word.strip() for word in typed.split(",") if word.strip()]
    with for_reading() as registry:
        try:
            return _device_page(isolation(registry, [enclosure, device], sources), typed)
        except BadInputError as error:
            if not sources:
                raise
            found = isolation(registry, [enclosure, device])
            return _device_page(found, typed, {"sources": said(error)}), 422


def _device_page(found: OpenedDevice, typed: str, faults: dict[str, str] | None = None) -> str:
    return render_template(
        "device.html",
        found=found,
        live=_part_of("live", found.stays_live, found.enclosure),
        dead=_part_of("dead", found.goes_dead, found.enclosure),
        unknown=_part_of("unknown", found.unknown, found.enclosure),
        typed={"sources": typed},
        faults=faults or {},
    )


@dataclass(frozen=True)
class WiresPart:
    """The part of a list of `count` wires that an address asks for, and where the next begins."""

    name: str
    rows: Sequence[Wire]
    count: int
    start: int
    next: int | None


def _part_of(name: str, rows: Sequence[Wire], box: str) -> WiresPart:
    """Return the part of a list that the address asks for: what ends in `box` comes first."""
    start = number_asked(name)
    near = sorted(rows, key=lambda row: box not in row.between)
    following = start + AT_ONCE if len(near) > start + AT_ONCE else None
    return WiresPart(name, near[start : start + AT_ONCE], len(near), start, following)


@pages.get("/manual")
def list_of_topics() -> str:
    """Show which topics there are."""
    return render_template("manual.html", topic=None, topics=topics().values(), ending="")


@pages.get("/manual/<name>")
def topic(name: str) -> str:
    """Show a topic."""
    if name not in topics():
        abort(404)
    shown = topics()[name]
    return render_template("manual.html", topic=shown, body=Markup(html(shown)))


@pages.get("/manual/pictures/<name>")
def picture(name: str) -> Response:
    """Return a picture of the manual."""
    return send_from_directory(PICTURES, name)
