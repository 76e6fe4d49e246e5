# SPDX-License-Identifier: MIT
"""Adding and correcting records by forms, taking a change back, and photographs of labels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, abort, redirect, render_template, request

from wiretrack.errors import BadInputError, FieldError, RestsOnError
from wiretrack.exchange.assigned import fields_of
from wiretrack.pictures import MOST_BYTES
from wiretrack.tasks.change.undoing import done_by, undo
from wiretrack.tasks.describe.adding import MOST, Addition, add, changed, form_of, page_of, typed_of
from wiretrack.tasks.describe.entering import BY_NOUN, SITE, correct, record_called
from wiretrack.tasks.find.showing import scan
from wiretrack.web.access import needs, takes, who
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.shared import address_of, after, said

if TYPE_CHECKING:
    from werkzeug.wrappers import Response

    from wiretrack.store.store import Registry
    from wiretrack.tasks.change.undoing import TakenBack

pages = Blueprint("entering", __name__)
LONGEST_BODY = MOST_BYTES + 64 * 1024
Answered = str | tuple[str, int]


@pages.get("/add")
@needs("change")
def kinds() -> str:
    """Show what can be added."""
    return render_template("add.html", kinds=[*BY_NOUN])


@pages.get("/add/<kind>")
@needs("change")
def new_record(kind: str) -> str:
    """Show the form of a new record; the address may say some of its fields."""
    _check_kind(kind)
    return _add_page(kind, request.args.to_dict())


@pages.post("/add/<kind>")
@needs("change")
def add_record(kind: str) -> Response | tuple[str, int]:
    """Add a record, or several conductors alike; stay on the page, beside the field, if not."""
    _check_kind(kind)
    typed = request.form.to_dict()
    known = fields_of(BY_NOUN[kind])
    fields = {key: text for key, text in typed.items() if key in known and text.strip()}
    try:
        with for_writing() as registry:
            like = typed.get("like", "").strip() or None
            wanted = Addition(kind=kind, fields=fields, like=like, count=_count(typed))
            made = add(registry, wanted, who=who())
            if made.several and made.pull:
                return redirect(after("pull", made.pull, made.change), 303)
            record = record_called(
                registry, made.tags[0] if made.tags else made.code or "", (kind,)
            )
            return redirect(after(*page_of(record), made.change), 303)
    except BadInputError as error:
        return _add_page(kind, typed, error), 422


def _check_kind(kind: str) -> None:
    if kind not in BY_NOUN:
        abort(404)


def _count(typed: dict[str, str]) -> int | None:
    text = typed.get("count", "").strip()
    if not text or text == "1":
        return None
    if not (text.isascii() and text.isdecimal() and len(text) < 5):
        raise FieldError("count", f"The count is '{text}'; it must be 1 to {MOST}.")
    return int(text)


def _add_page(kind: str, typed: dict[str, str], error: BadInputError | None = None) -> str:
    with for_reading() as registry:
        form = form_of(registry, BY_NOUN[kind])
    several = kind == "conductor"
    return render_template(
        "entry.html", kind=kind, of=None, form=form, typed=typed, several=several, **_fault(error)
    )


def _fault(error: BadInputError | None) -> dict[str, Any]:
    """Return what is wrong, by its field; of none alone it stands above the form."""
    if error is None:
        return {"faults": {}, "fault": None}
    field = error.field if isinstance(error, FieldError) else ""
    return {"faults": {field: said(error)}, "fault": None if field else said(error)}


@pages.get("/correct/<what>/<path:code>")
@needs("change")
def form_to_correct(what: str, code: str) -> str:
    """Show the form of a record as it is."""
    with for_reading() as registry:
        record = _record(registry, what, code)
        return _correct_page(registry, record, what, typed_of(record))


@pages.post("/correct/<what>/<path:code>")
@needs("change")
def correct_record(what: str, code: str) -> Response | tuple[str, int]:
    """Change what was typed otherwise; stay on the page, beside the field, if that can't be."""
    with for_writing() as registry:
        record = _record(registry, what, code)
        known = {field.key for field in form_of(registry, type(record))}
        typed = {key: text for key, text in request.form.items() if key in known}
        try:
            if not (new := changed(typed_of(record), typed)):
                return redirect(after(*page_of(record), None), 303)
            done = correct(registry, _name(what, code), new, who=who())
        except BadInputError as error:
            return _correct_page(registry, record, what, typed, error), 422
        now = record_called(registry, _name(what, done.code), (what,))
        return redirect(after(*page_of(now), done.change), 303)


def _name(what: str, code: str) -> str:
    return SITE if what == SITE else code


def _record(registry: Registry, what: str, code: str) -> Any:
    if what not in (*BY_NOUN, SITE):
        abort(404)
    return record_called(registry, _name(what, code), (what,))


def _correct_page(
    registry: Registry, record: Any, what: str, typed: dict[str, str],
    error: BadInputError | None = None,
) -> str:  # fmt: skip
    form = form_of(registry, type(record))
    back = address_of(*page_of(record))
    return render_template(
        "entry.html", kind=what, of=record, form=form, typed=typed, back=back, **_fault(error)
    )


def just_done() -> TakenBack | None:
    """Return the change that led to this page, as its address says."""
    name = request.args.get("did", "")
    if not name:
        return None
    with for_reading() as registry:
        return done_by(registry, name)


@pages.post("/undo")
@needs("change")
def take_back() -> Response | Answered:
    """Take a change back; where later work rests on it, say so."""
    name = request.form.get("change", "")
    try:
        with for_writing() as registry:
            done = undo(registry, name, together="together" in request.form, who=who())
    except RestsOnError as error:
        return render_template("undo.html", change=name, resting=error.resting), 409
    except BadInputError as error:
        return render_template("undo.html", change=name, fault=said(error)), 422
    return render_template("undo.html", done=done)


@pages.get("/scan")
def camera() -> str:
    """Ask for a photograph of labels."""
    return render_template("scan.html", found=None)


@pages.post("/scan")
@takes(LONGEST_BODY)
def read_photograph() -> Response | tuple[str, int] | str:
    """Open the record of the only label in a photograph; list those of several."""
    photo = request.files.get("photo")
    data = photo.read(MOST_BYTES + 1) if photo else b""
    try:
        if not data or len(data) > MOST_BYTES:
            raise FieldError("photo", "Take a photo of a label, of at most 20 MB.")
        with for_reading() as registry:
            found = scan(registry, data)
    except BadInputError as error:
        return render_template("scan.html", found=None, faults={"photo": said(error)}), 422
    known = [one for one in found if one.record is not None]
    if len(found) == len(known) == 1:
        (one,) = known
        what = ("conductor", one.tag) if one.tag else ("enclosure", one.enclosure)
        return redirect(address_of(what[0], str(what[1])), 303)
    return render_template("scan.html", found=found)
