# SPDX-License-Identifier: MIT
"""Notes and photographs of any record: their page, the form that adds them, files given back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, abort, redirect, render_template, request

from wiretrack.errors import BadInputError, FieldError, NotFoundError
from wiretrack.model.words import SUBJECTS
from wiretrack.pictures import MOST_BYTES
from wiretrack.store.notes import record_id
from wiretrack.store.searching import Named, resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.describe import remarks
from wiretrack.web.access import needs, takes, who
from wiretrack.web.failures import said
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.shared import address_of

if TYPE_CHECKING:
    from werkzeug.wrappers import Response as AnyResponse

pages = Blueprint("notes", __name__)
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
