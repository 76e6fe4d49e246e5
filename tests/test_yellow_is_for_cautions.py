# SPDX-License-Identifier: MIT
"""Yellow is for cautions (ISO 3864-1) and for wires that are yellow, and for nothing else."""

from __future__ import annotations

import re
from colorsys import rgb_to_hls
from pathlib import Path

import pytest

import wiretrack

ROOT = Path(wiretrack.__file__).parent
SHOWN = [
    *ROOT.rglob("*.css"),
    *ROOT.rglob("*.svg"),
    ROOT / "render/report/html.py",
    ROOT / "svg.py",
]
SHOWN += [ROOT / "web/static/manifest.json"]
HEX = re.compile(r"#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b")


def is_yellow(colour: str) -> bool:
    """Whether people call a colour yellow or amber: light, not grey, hue from 40 to 65 degrees."""
    digits = colour.strip("#")
    whole = digits if len(digits) == 6 else "".join(2 * digit for digit in digits)
    red, green, blue = (int(whole[at : at + 2], 16) / 255 for at in (0, 2, 4))
    hue, _, _ = rgb_to_hls(red, green, blue)
    high, low = max(red, green, blue), min(red, green, blue)
    return 40 <= 360 * hue <= 65 and high > 0.75 and high - low > 0.15


def elsewhere(text: str) -> list[str]:
    """The yellows of a style sheet or picture that are neither a caution's nor a wire's."""
    rules = re.findall(r"([^{}]*)\{+([^{}]*)\}", text) or [("", text)]
    wrong = []
    for selector, body in rules:
        for declaration in body.split(";"):
            yellow = "var(--caution)" in declaration or any(
                map(is_yellow, HEX.findall(declaration))
            )
            names = f"{selector} {declaration.partition(':')[0]}"
            if yellow and "caution" not in names and ".c-" not in selector:
                wrong.append(f"{selector.strip()} {declaration.strip()}")
    return wrong


@pytest.mark.parametrize("file", SHOWN, ids=lambda file: file.name)
def test_only_cautions_and_yellow_wires_are_yellow(file: Path) -> None:
    assert elsewhere(file.read_text("utf-8")) == []


def test_the_pages_cautions_are_yellow_and_their_header_is_white_with_a_black_rule() -> None:
    style = (ROOT / "web/static/pages.css").read_text("utf-8")
    (cautions,) = re.findall(r"^\.cautions \{.*$", style, re.MULTILINE)
    assert "var(--caution)" in cautions
    (root,) = re.findall(r"--caution: (#\w+)", style)
    assert is_yellow(root)
    (header,) = re.findall(r"^header \{.*$", style, re.MULTILINE)
    assert "background: var(--paper)" in header
    assert "border-bottom: 3px solid var(--edge)" in header


def test_yellow_elsewhere_would_be_found() -> None:
    # Amber on a button, the colour of a variable used for more, and a yellow of three digits.
    assert elsewhere(".find button { background: #ffc83d; margin: 0; }") != []
    assert elsewhere(":root { --ink: #000; --mark: #ffc83d; }") != []
    assert elsewhere("nav { color: #fe0; }\n.find b { color: var(--caution); }") != []
    assert (
        elsewhere(".cautions { margin: 0; background: #fff6d6; }\n.c-YE { --wire: #ffe000; }") == []
    )
