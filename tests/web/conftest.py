# SPDX-License-Identifier: MIT
"""The app on the pump's registry, and clients that carry a code."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1
from wiretrack.web.access import Code, Settings
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient

CODE, LOG_CODE, READ_CODE = "lantern-moss-17", "quarry-finch-52", "willow-brick-08"
BEARER = {"Authorization": f"Bearer {CODE}"}


def settings_of(db: Path, **changed: Any) -> Settings:
    codes = (Code(CODE), Code(LOG_CODE, "log"), Code(READ_CODE, "read"))
    return Settings(**{"db": db, "codes": codes, **changed})


@pytest.fixture
def app(db: Path) -> Iterator[Flask]:
    """The app; its own codes are chosen ones, which may be tried a few times a minute."""
    made = create_app(settings_of(db))
    yield made
    made.extensions["registries"].close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A client without any code."""
    return app.test_client()


def reading(**changed: Any) -> dict[str, Any]:
    """A continuity reading as a phone sends it."""
    return {
        "id": str(uuid.uuid4()), "kind": "continuity", "subject": L1, "value": "0.32 ohm",
        "leads": "0.01 ohm", "temp": "20 C", "instrument": "M1",
        "at": "2026-05-02T10:15:00+02:00", **changed,
    }  # fmt: skip


def signed_in(app: Flask, code: str = CODE, name: str = "phone-1") -> FlaskClient:
    """Return a client that went through the sign-in page."""
    client = app.test_client()
    token = form_token(client.get("/sign-in").text)
    answer = client.post("/sign-in", data={"code": code, "name": name, "form_token": token})
    assert answer.status_code == 303
    return client


def form_token(page: str) -> str:
    """Return the token in a page's forms."""
    return page.split('name="form_token" value="')[1].split('"')[0]
