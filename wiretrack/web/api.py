# SPDX-License-Identifier: MIT
"""The HTTP API: records, look-up and readings as JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, abort, g, jsonify, request

from wiretrack.encoding import document
from wiretrack.errors import ChangedMeanwhileError, FieldError, RetiredError
from wiretrack.exchange.schema import openapi as described
from wiretrack.store.searching import find
from wiretrack.tasks.find.showing import show_conductor
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.test.plan import owed_tests, reading_form
from wiretrack.tasks.test.testing import post_reading, revision
from wiretrack.web.access import form_token, public, who
from wiretrack.web.registries import add_together, for_reading

if TYPE_CHECKING:
    from wiretrack.store.store import Registry
    from wiretrack.web.access import Visitor

pages = Blueprint("api", __name__, url_prefix="/api")


@pages.get("/openapi.json")
@public
def openapi() -> Response:
    """Return the description of this API."""
    return jsonify(described())


@pages.get("/session")
def about_session() -> Response:
    """Return who the server takes the visitor for, and the token that writing requests carry."""
    visitor: Visitor | None = g.visitor
    role, name = (visitor.role, visitor.name) if visitor else ("read", None)
    return jsonify({"role": role, "name": name, "form_token": form_token()})


@pages.get("/conductors/<text>")
def conductor(text: str) -> Response:
    """Return ``show TAG``; the ETag changes when the record does."""
    with for_reading() as registry:
        record = show_conductor(registry, text)
        tagged = revision(record.conductor)
        response = jsonify(document(record))
    response.set_etag(tagged)
    return response


@pages.get("/find")
def look_up() -> Response:
    """Return what carries the words of ``q``, best first."""
    if "q" not in request.args:
        abort(400, description="q is missing. Ask like /api/find?q=pump.")
    with for_reading() as registry:
        return jsonify(document(find(registry, request.args["q"])))


@pages.get("/punchlist")
def open_points() -> Response:
    """Return what is still open on the site."""
    with for_reading() as registry:
        return jsonify(document(punch_list(registry)))


@pages.get("/circuits/<code>/tests")
def owed(code: str) -> Response:
    """Return the readings that a circuit owes, in working order."""
    with for_reading() as registry:
        return jsonify(document(owed_tests(registry, code)))


@pages.post("/readings")
def add_reading() -> tuple[Response, int]:
    """Store a reading once, however often it is sent; 201 the first time, then 200."""
    sent = body()
    with for_reading() as registry:
        try:
            posted = post_reading(registry, sent, who=who(), seen=_seen(), add=add_together)
        except ChangedMeanwhileError as error:
            raise ChangedMeanwhileError(str(error.value), _now(registry, sent)) from error
        except FieldError as error:
            if not isinstance(error.__cause__, RetiredError):
                raise
            raise FieldError(error.field, error, _now(registry, sent)) from error
    return jsonify(document(posted.answer)), 201 if posted.new else 200


def _now(registry: Registry, sent: dict[str, str]) -> Any:
    """Return what a reading that was sent is of, as its record is by now."""
    of = reading_form(registry, sent["subject"], sent["kind"]).of
    return document(show_conductor(registry, of.name) if of.what == "conductor" else of)


def body() -> Any:
    """Return the JSON document that was sent."""
    if request.mimetype != "application/json":
        abort(415)
    try:
        return json.loads(request.get_data())
    except (ValueError, RecursionError):
        abort(400, description="The body is not JSON. Send one JSON object in UTF-8.")


def whole(sent: Any, *names: str) -> list[Any]:
    """Return the named members of a document, which must hold them and no others."""
    if not isinstance(sent, dict):
        raise FieldError("", "The body is not a JSON object.")
    for name in (*names, *sent):
        if name not in sent:
            raise FieldError(name, f"{name}: It is missing.")
        if name not in names:
            raise FieldError(name, f"{name}: There is no such field. Fields: {', '.join(names)}.")
    return [sent[name] for name in names]


def _seen() -> str | None:
    """Return the revision that the sender's If-Match names, if any."""
    tags = request.if_match.as_set()
    return next(iter(tags), None)
