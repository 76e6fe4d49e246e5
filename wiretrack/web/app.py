# SPDX-License-Identifier: MIT
"""The app, made from its settings, so that every test has its own."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from flask import Blueprint, Flask, Response, current_app, g, send_from_directory
from flask.sessions import SecureCookieSessionInterface
from flask.templating import Environment
from jinja2 import BytecodeCache, FileSystemLoader

from wiretrack.render.records import TEMPLATES, RecordsFirst, set_up
from wiretrack.store.store import open_registry
from wiretrack.web import (
    access,
    api,
    entering,
    finding,
    history,
    records,
    ringouts,
    signing_in,
    testing,
    trouble,
)
from wiretrack.web.access import public
from wiretrack.web.registries import Registries
from wiretrack.web.shared import address_of, answer_errors

if TYPE_CHECKING:
    from itsdangerous import URLSafeTimedSerializer
    from jinja2.bccache import Bucket

    from wiretrack.model.entity import Attachment
    from wiretrack.web.access import Settings

SESSION_LASTS = timedelta(days=14)
files = Blueprint("files", __name__)  # that a browser fetches; nothing of the registry is in them


@files.get("/worker.js")
@public
def worker() -> Response:
    """Return the service worker; from the root, so that it may keep every page."""
    return send_from_directory(current_app.static_folder or "", "worker.js")


@files.get("/favicon.ico")
@public
def icon() -> Response:
    """Return the icon."""
    return send_from_directory(current_app.static_folder or "", "icon.svg")


@files.get("/robots.txt")
@public
def robots() -> Response:
    """Ask crawlers to stay away."""
    return Response("User-agent: *\nDisallow: /\n", mimetype="text/plain")


def create_app(settings: Settings) -> Flask:
    """Return the app for one registry.

    Raises `RegistryError` if the registry can't be used.
    """
    with open_registry(settings.db) as registry:
        key = registry.signing_key()
    app = App("wiretrack.web")
    app.config.update(
        HOSTS=settings.hosts,
        OPEN_RECORDS=settings.open_records,
        SECRET_KEY=key,
        MAX_CONTENT_LENGTH=settings.longest_body,
        MAX_FORM_MEMORY_SIZE=settings.longest_body,
        MAX_FORM_PARTS=100,
        SESSION_COOKIE_NAME="wiretrack",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_SECURE=settings.secure,
        PERMANENT_SESSION_LIFETIME=SESSION_LASTS,
        SESSION_REFRESH_EACH_REQUEST=False,  # a late answer would bring an older session back
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    app.session_interface = Sessions()
    access.public(app.view_functions["static"])
    app.extensions["access"] = access.Access(settings, key)
    app.extensions["registries"] = Registries(settings.db, settings.lock_file)
    for step in (
        access.check_host, access.check_size, access.identify, access.take_turn,
        access.refuse_forgery,
    ):  # fmt: skip
        app.before_request(step)
    app.teardown_request(access.end_turn)
    app.after_request(access.add_headers)
    answer_errors(app)
    _set_up_templates(app)
    app.register_blueprint(files)
    for group in (
        signing_in, api, finding, history, ringouts, testing, trouble, records,
        entering,
    ):  # fmt: skip
        app.register_blueprint(group.pages)
    return app


class Templates(RecordsFirst, Environment):
    """Flask's templates, which look a name up in a record first."""


class Compiled(BytecodeCache):
    """Templates compiled before, here or in the process that this one is forked from."""

    def __init__(self) -> None:
        self.kept: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Take what is kept."""
        if bucket.key in self.kept:
            bucket.bytecode_from_string(self.kept[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep it."""
        self.kept[bucket.key] = bucket.bytecode_to_string()


class App(Flask):
    """The app, with templates of its own and those that show records anywhere."""

    jinja_options = {"bytecode_cache": Compiled()}  # noqa: RUF012
    jinja_environment = Templates
    jinja_loader = FileSystemLoader([Path(__file__).parent / "templates", TEMPLATES])


class Page:
    """A page as the place where a record is shown; a `render.records.Face`."""

    paper = False
    address = staticmethod(address_of)

    @property
    def forms(self) -> bool:
        """Whether the visitor may change the record."""
        return bool(g.visitor and g.visitor.may("change"))

    @property
    def notes(self) -> bool:
        """Whether the visitor may add notes and photographs."""
        return bool(g.visitor and g.visitor.may("log"))

    def file(self, attached: Attachment) -> str:
        """Return the address of what was attached."""
        return f"/attachments/{attached.id}"


class Sessions(SecureCookieSessionInterface):
    """Flask's signed sessions of one app, their signer made once instead of for each request."""

    _signer: URLSafeTimedSerializer | None = None

    def get_signing_serializer(self, app: Flask) -> URLSafeTimedSerializer | None:
        """Return what signs the sessions of `app`."""
        if self._signer is None:
            self._signer = super().get_signing_serializer(app)
        return self._signer


def compile_templates(app: Flask) -> None:
    """Compile all templates now, so that no reader has to wait for it."""
    for name in app.jinja_env.list_templates(extensions=["html"]):
        app.jinja_env.get_template(name)


def _set_up_templates(app: Flask) -> None:
    set_up(app.jinja_env, unknown="")
    app.jinja_env.globals.update(
        face=Page(),
        more=None,
        just_done=entering.just_done,
        form_token=access.form_token,
        address_of=address_of,
    )
    app.context_processor(lambda: {"person": access.person()})
