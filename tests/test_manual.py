# SPDX-License-Identifier: MIT
"""The manual shows what really happens: its console blocks are typed and compared."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.manual import (
    DATA,
    PAGES,
    PLAYED,
    README,
    blocks,
    masked,
    played,
    set_up,
    sources_page,
)
from tests.terminal import at_a_terminal
from tests.warm import command
from wiretrack.cli.group import run
from wiretrack.manual import PICTURES, html, topics


@pytest.mark.parametrize("name", PLAYED)
def test_each_console_block_prints_what_it_shows(name: str, demo_db: Path, tmp_path: Path) -> None:
    folder = set_up(name, tmp_path, demo_db.parent)
    for block in blocks(PAGES[name].read_text("utf-8")):
        assert masked(played(block, folder, Path(command()).parent)) == masked(block)


def test_the_readme_has_exactly_two_set_up_commands() -> None:
    text = README.read_text("utf-8")
    commands = re.findall(r"^<!-- (demo|test) -->\n```sh\n(.+?)\n```\n<!-- -->$", text, re.M)
    assert [name for name, _ in commands] == ["demo", "test"]
    assert all("pip install" in command for _, command in commands)


def test_links_and_pictures_lead_to_what_is_there() -> None:
    for file in PAGES.values():
        for place in re.findall(r"\]\(([^)#:]+)\)", file.read_text("utf-8")):
            assert (file.parent / place).is_file(), f"{file.name}: {place}"
    used = "".join(file.read_text("utf-8") for file in PAGES.values())
    assert [p.name for p in PICTURES.iterdir() if f"pictures/{p.name}" not in used] == []


def test_readme_links_each_topic_in_order() -> None:
    linked = re.findall(r"\(wiretrack/manual/\d\d-([a-z]+)\.md\)", README.read_text("utf-8"))
    assert linked == [*topics()]


def test_a_topic_is_plain_in_a_pipe_and_json_for_scripts(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["manual", "merge"]) == 0
    assert capsys.readouterr().out == topics()["merge"].text
    assert run(["manual", "merge", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == topics()["merge"].title
    assert run(["manual"]) == 0
    listed = capsys.readouterr().out
    assert all(name in listed for name in topics())


def test_a_terminal_shows_a_topic_without_its_marks() -> None:
    with at_a_terminal("manual", "merge") as terminal:
        seen = terminal.sees("Two laptops")
        terminal.ends()
    assert "# Two" not in seen


def test_a_mistyped_topic_gets_near_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["manual", "merje"]) == 2
    see = "See all: wiretrack manual\n"
    assert capsys.readouterr().err == (
        f"error: The manual has no topic 'merje'. Close to it: merge. {see}"
    )
    assert run(["manual", "zzz"]) == 2
    assert capsys.readouterr().err == f"error: The manual has no topic 'zzz'. {see}"


def test_as_html_text_is_escaped_and_links_stay_inside() -> None:
    page = html(topics()["describe"], ".html")
    assert 'href="spreadsheets.html"' in page
    assert "<p>On the laptop:</p>" in page
    assert "KIND CODE FIELD=VALUE" in page
    assert "<script" not in "".join(html(each) for each in topics().values())


def test_the_topic_of_sources_lists_every_table_as_its_heading_reads() -> None:
    text = PAGES["sources"].read_text("utf-8")
    assert sources_page(text) == text
    for file in DATA.glob("*.csv"):
        assert f"`{file.name}`" in text


def test_readme_is_short_and_each_of_its_blocks_too() -> None:
    text = README.read_text("utf-8")
    assert len(text.splitlines()) <= 200
    for block in blocks(text):
        printed = [line for line in block.splitlines() if not line.startswith("$ ")]
        assert len(printed) <= 6, block
