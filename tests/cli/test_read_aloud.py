# SPDX-License-Identifier: MIT
"""A tag read aloud: O for 0 and I for 1 in its check character, wherever a tag is typed."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from tests.web.conftest import BEARER, settings_of
from wiretrack.model.tags import check_character, format_tag
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


def bodies(character: str) -> list[str]:
    """Return bodies of tags whose check character is this one."""
    found = (f"{number:06}" for number in range(1000, 3000))
    return [body for body in found if check_character(body) == character]


@pytest.fixture
def tags(wiretrack: Wiretrack, tmp_path: Path) -> dict[str, str]:
    """Tags on record whose check characters are O, 0, I, L and 1."""
    made = {character: bodies(character)[0] + character for character in "O0IL1"}
    wire = {"circuit": "K", "function": "L1", "size": "4 mm2"}
    ends = {"from": {"enclosure": "A"}, "to": {"enclosure": "B"}}
    site = {
        "format": "wiretrack-site/1",
        "enclosures": [{"code": "A"}, {"code": "B"}],
        "circuits": [{"code": "K"}],
        "conductors": [{**wire, **ends, "tag": tag} for tag in made.values()],
    }
    file = tmp_path / "tags.json"
    file.write_text(json.dumps(site), "utf-8")
    assert wiretrack("load", file).status == 0
    return made


@pytest.mark.parametrize(
    ("right", "typed"), [("O", "0"), ("0", "O"), ("I", "1"), ("L", "1"), ("1", "I"), ("1", "L"),
                         ("I", "l"), ("L", "i")],
)  # fmt: skip
def test_it_is_shown_and_found_and_what_was_meant_is_said(
    wiretrack: Wiretrack, tags: dict[str, str], right: str, typed: str
) -> None:
    tag, said = tags[right], tags[right][:6] + typed
    ran = wiretrack("show", said, "--json")
    assert (ran.status, ran.json["tag"]) == (0, format_tag(tag))
    assert ran.err == f"{said} is read as {format_tag(tag)}.\n"
    assert wiretrack("find", said, "--json").json[0]["code"] == format_tag(tag)
    assert wiretrack("test", "log", said, "--kind", "continuity", "0.3").status == 0
    assert wiretrack("show", tag, "--json").err == ""


def test_another_wrong_character_or_another_tag_as_near_is_refused(
    wiretrack: Wiretrack, tags: dict[str, str], tmp_path: Path
) -> None:
    tag = tags["O"]
    wrong = next(c for c in "23456789ABC" if c != tag[6])
    ran = wiretrack("show", tag[:6] + wrong)
    assert (ran.status, "the check character is wrong" in ran.err) == (2, True)
    unknown = bodies("O")[1]
    assert wiretrack("show", unknown + "0").status == 2
    near = next(b for b in bodies("0") if sum(x != y for x, y in zip(b, tag, strict=False)) == 1)
    wire = {"circuit": "K", "function": "L1", "size": "4 mm2", "tag": near + "0"}
    site = {
        "format": "wiretrack-site/1",
        "conductors": [{**wire, "from": {"enclosure": "A"}, "to": {"enclosure": "B"}}],
    }
    file = tmp_path / "near.json"
    file.write_text(json.dumps(site), "utf-8")
    assert wiretrack("load", file).status == 0
    ran = wiretrack("show", tag[:6] + "0")  # one slip away from both
    assert (ran.status, ran.out) == (2, "")
    assert format_tag(tag) in ran.err
    assert format_tag(near + "0") in ran.err


def test_the_page_says_what_was_meant(db: Path, tags: dict[str, str]) -> None:
    app = create_app(settings_of(db))
    client, headers = app.test_client(), BEARER
    said, tag = tags["O"][:6] + "0", format_tag(tags["O"])
    for address in (f"/{said}", f"/find?q={said}"):
        page = client.get(address, headers=headers, follow_redirects=True)
        assert f"{said} is read as {tag}." in page.text
    for address in (f"/{tag}", f"/{tag}?read={tags['I']}", f"/{tag}?read=%3Cb%3E"):
        assert "is read as" not in client.get(address, headers=headers, follow_redirects=True).text
    app.extensions["registries"].close()
