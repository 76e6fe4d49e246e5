# SPDX-License-Identifier: MIT
"""The manual shows what really happens: its console blocks are typed and compared."""

from __future__ import annotations

import re
from pathlib import Path

from tests.manual import README, blocks, masked, played
from tests.warm import command


def test_every_console_block_of_the_readme_prints_what_it_shows(tmp_path: Path) -> None:
    found = blocks(README.read_text("utf-8"))
    assert found
    for block in found:
        assert masked(played(block, tmp_path, Path(command()).parent)) == masked(block)


def test_the_readme_has_exactly_two_set_up_commands() -> None:
    text = README.read_text("utf-8")
    commands = re.findall(r"^<!-- (demo|test) -->\n```sh\n(.+?)\n```\n<!-- -->$", text, re.M)
    assert [name for name, _ in commands] == ["demo", "test"]
    assert all("pip install" in command for _, command in commands)
