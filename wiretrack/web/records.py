# SPDX-License-Identifier: MIT
"""The pages of what is recorded: a conductor, an enclosure, a circuit, a raceway, a pull."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from flask import Blueprint, abort, redirect, render_template, request

from wiretrack.errors import AskedError, BadInputError, FieldError, NotFoundError
from wiretrack.model.parts import End
from wiretrack.model.tags import Tag, looks_like_tag, read_aloud
from wiretrack.render.trend import plots
from wiretrack.store.searching import tag_of
from wiretrack.tasks.change.retired import ABANDONED_CAUTION
from wiretrack.tasks.describe.landing import Sure, land
from wiretrack.tasks.find.records import CircuitRecord, EnclosureRecord, PullRecord, RacewayRecord
from wiretrack.tasks.find.showing import conductor_page, show_as
from wiretrack.tasks.find.site_map import way_to
from wiretrack.tasks.label.ends import Ends, place_labels, take_back_labels
from wiretrack.tasks.test.plan import reading_form, trend
from wiretrack.web.access import needs, who
from wiretrack.web.failures import said
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.shared import address_of, after

if TYPE_CHECKING:
    from werkzeug.wrappers import Response

    from wiretrack.model.entity import Entity
    from wiretrack.readings.trending import Series
    from wiretrack.store.store import Registry

pages = Blueprint("records", __name__)


@pages.get("/<text>")
def conductor(text: str) -> str | Response:
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
def box(code: str) -> Response:
    """Go from the address on an enclosure's card to its page."""
    return redirect(address_of("enclosure", code), 303)


@pages.get("/subjects/<path:name>")
def subject(name: str) -> Response:
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
def land_end(tag: str) -> str | Response | tuple[str, int]:
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
def label_end(tag: str) -> str | Response | tuple[str, int]:
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
