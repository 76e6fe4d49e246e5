# SPDX-License-Identifier: MIT
"""The pages of what is recorded: a conductor, an enclosure, a circuit, a pull; and its notes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from flask import Blueprint, Response, abort, redirect, render_template, request

from wiretrack.errors import AskedError, BadInputError, FieldError, NotFoundError
from wiretrack.model.parts import End
from wiretrack.model.tags import Tag, looks_like_tag, read_aloud
from wiretrack.model.words import SUBJECTS
from wiretrack.pictures import MOST_BYTES
from wiretrack.render.trend import plots
from wiretrack.store.notes import record_id
from wiretrack.store.searching import Named, resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import ABANDONED_CAUTION
from wiretrack.tasks.describe import remarks
from wiretrack.tasks.describe.landing import Sure, land
from wiretrack.tasks.find.records import CircuitRecord, EnclosureRecord, PullRecord, RacewayRecord
from wiretrack.tasks.find.showing import conductor_page, show_as
from wiretrack.tasks.find.site_map import way_to
from wiretrack.tasks.label.ends import Ends, place_labels, take_back_labels
from wiretrack.tasks.test.plan import reading_form, trend
from wiretrack.web.access import needs, takes, who
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.shared import address_of, after, said

if TYPE_CHECKING:
    from werkzeug.wrappers import Response as AnyResponse

    from wiretrack.model.entity import Entity
    from wiretrack.readings.trending import Series
    from wiretrack.store.store import Registry

pages = Blueprint("records", __name__)


@pages.get("/<text>")
def conductor(text: str) -> str | AnyResponse:
    """Show the conductor that a label's address names, in any writing of its tag."""
    if not looks_like_tag(text):
        abort(404)
    if read_aloud(text):
        with for_reading() as registry:
            meant = Tag(tag_of(registry, text))
        asked = urlencode({"read": text})  # so that the page says what was meant
        return redirect(f"{address_of('conductor', str(meant))}?{asked}", 303)
    return _conductor_page(text)


@pages.get("/box/<code>")
@pages.get("/BOX/<code>")
def box(code: str) -> AnyResponse:
    """Go from the address on an enclosure's card to its page."""
    return redirect(address_of("enclosure", code), 303)


@pages.get("/subjects/<path:name>")
def subject(name: str) -> AnyResponse:
    """Go to the page that shows what a reading is of: a device is shown with its enclosure."""
    with for_reading() as registry:
        of = reading_form(registry, name).of
    return redirect(address_of("enclosure" if of.what == "device" else of.what, of.shown), 303)


@pages.get("/enclosures/<code>")
def enclosure(code: str) -> str:
    """Show an enclosure: every terminal, and the way to stand in front of it."""
    with for_reading() as registry:
        record = show_as(registry, EnclosureRecord, code)
        way = way_to(record.enclosure.site, record.enclosure.code)
        return render_template("enclosure.html", record=record, way=way, caution=ABANDONED_CAUTION)


@pages.get("/circuits/<code>")
def circuit(code: str) -> str:
    """Show a circuit and its conductors."""
    with for_reading() as registry:
        found = show_as(registry, CircuitRecord, code)
        return _shown("circuit.html", found.circuit, found, readings=found.readings)


@pages.get("/raceways/<code>")
def raceway(code: str) -> str:
    """Show a raceway and the conductors in it."""
    with for_reading() as registry:
        found = show_as(registry, RacewayRecord, code)
        return _shown("raceway.html", found.raceway, found)


@pages.get("/pulls/<code>")
def pull(code: str) -> str:
    """Show a pull, its path and its conductors."""
    with for_reading() as registry:
        found = show_as(registry, PullRecord, code)
        return _shown("pull.html", found.pull, found)


@pages.post("/ends/<tag>")
@needs("change")
def land_end(tag: str) -> str | AnyResponse | tuple[str, int]:
    """Land an end on a terminal, cap it or set it loose; stay on the page if that can't be."""
    form = request.form
    state, terminal = form.get("state", ""), form.get("terminal", "").strip()
    try:
        if state == "landed" and not terminal:
            raise FieldError("terminal", "A landed end needs its terminal, like TB1:4.")
        to = terminal if state == "landed" else None
        end = End(enclosure=form.get("enclosure", ""), terminal=to, state=state)
        sure = Sure(new_terminal="sure" in form, anyway="sure" in form)
        with for_writing() as registry:
            land(registry, tag, end, who=who(), sure=sure)
            change = registry.commit.change
    except NotFoundError:
        raise
    except AskedError as error:
        return _conductor_page(tag, typed=form, fault=error.what, ask=True), 422
    except BadInputError as error:
        return _conductor_page(tag, typed=form, fault=said(error)), 422
    return redirect(after("conductor", tag, change), 303)


@pages.post("/ends/<tag>/label")
@needs("change")
def label_end(tag: str) -> str | AnyResponse | tuple[str, int]:
    """Note that the label of an end is on, or isn't; stay on the page if that can't be."""
    form = request.form
    end = Ends(tag, form.get("end", ""), form.get("place", ""))
    label = form.get("label", "")
    try:
        with for_writing() as registry:
            if label == "off":
                take_back_labels(registry, end, who=who())
            elif label in ("on", "by-hand"):
                place_labels(registry, end, by_hand=label == "by-hand", who=who())
            else:
                raise FieldError("label", "Say whether the label is on.")
    except NotFoundError:
        raise
    except BadInputError as error:
        return _conductor_page(tag, label_fault=said(error)), 422
    return redirect(address_of("conductor", tag), 303)


def _conductor_page(text: str, **extra: Any) -> str:
    with for_reading() as registry:
        page = conductor_page(registry, text)
        own, read = page.record.conductor, request.args.get("read", "")
        trends = _trends(registry, own.tag) if len(own.readings) > 1 else []
        return render_template(
            "conductor.html",
            record=page.record,
            path=page.path,
            points=page.points,
            trends=trends,
            read_as=read if read_aloud(read) == own.tag else None,
            **extra,
        )


def _trends(registry: Registry, tag: str) -> list[tuple[Series, str]]:
    """Return each series of a conductor's readings that has two points, with its plot."""
    try:
        return plots(trend(registry, tag))
    except BadInputError:
        return []


def _shown(
    template: str, record: Entity, found: CircuitRecord | RacewayRecord | PullRecord, **extra: Any
) -> str:
    conductors, retired = found.conductors, found.retired
    return render_template(template, record=record, conductors=conductors, retired=retired, **extra)


LONGEST_BODY = MOST_BYTES + 64 * 1024
A_DAY_S = 86_400


@pages.get("/notes/<what>/<path:code>")
def of_record(what: str, code: str) -> str:
    """Show what is noted of a record, and attached to it, with the form for more."""
    return _page(_named(what, code))


@pages.post("/notes/<what>/<path:code>")
@needs("log")
@takes(LONGEST_BODY)
def add(what: str, code: str) -> AnyResponse | tuple[str, int]:
    """Keep a note, a photograph or both; stay on the page, beside the field, if that can't be."""
    page, form = _named(what, code), request.form
    within = form.get("of", "").split(" ", 1)
    of = _named(*within) if len(within) == 2 else page
    try:
        with for_writing() as registry:
            if form.get("take_back"):
                remarks.take_back(registry, form["take_back"], who=who())
            else:
                typed = form.get("text", "")
                text = remarks.checked(typed) if typed.strip() else None
                if not (_add_files(registry, of) or text):
                    raise FieldError("text", "Write a note, or choose a photo or a PDF.")
                if text:
                    remarks.add_note(registry, of, text, who=who())
    except NotFoundError:
        raise
    except BadInputError as error:
        field = error.field if isinstance(error, FieldError) else "file"
        return _page(page, typed=form, faults={field: said(error)}), 422
    return redirect(address_of(page.what, page.code), 303)


def _add_files(registry: Any, of: Named) -> int:
    """Keep the files that the form brought; return how many."""
    files = [file for key in ("photo", "file") for file in request.files.getlist(key)]
    brought = [(file.filename or "", file.read(MOST_BYTES + 1)) for file in files if file.filename]
    for name, data in brought:
        remarks.attach(registry, of, name, data, who=who())
    return len(brought)


@pages.get("/attachments/<start>")
def attached(start: str) -> Response:
    """Give back what was attached, as a file that nothing in it can make anything else of."""
    with for_reading() as registry:
        found, content = remarks.attached(registry, start)
    answer = Response(content, mimetype=found.type)
    shown = "inline" if found.type.startswith("image/") else "attachment"
    answer.headers.set("Content-Disposition", shown, filename=found.name)
    answer.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer.headers["Cache-Control"] = f"private, max-age={A_DAY_S}"
    return answer


def _named(what: str, code: str) -> Named:
    """Return the record of that kind and name."""
    if what not in SUBJECTS:
        abort(404)
    with for_reading() as registry:
        return resolve(registry, code, (what,))


def _page(of: Named, **more: Any) -> str:
    with for_reading() as registry:
        noted = site_of(registry).noted(record_id(registry.connection, of.what, of.code))
        return render_template("notes.html", of=of, noted=noted, **more)
