# SPDX-License-Identifier: MIT
"""README's picture, from the running product: ``python -m tests.readme_picture`` makes it again.

A step of a ring-out on a phone, the label of one end, and a page of the report, side by side.
"""

from __future__ import annotations

import io
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import sync_playwright

from tests.web.browsing import CHROMIUM, PHONE, served
from tests.web.conftest import CODE
from wiretrack.manual import PICTURES
from wiretrack.tasks.demo import build_demo

FILE = PICTURES / "readme.png"
HEIGHT, GAP, COLOURS = 620, 24, 32
WIDER: dict[str, Any] = {"viewport": {"width": 412, "height": 732}}
REPORT: dict[str, Any] = {"viewport": {"width": 760, "height": 1075}}


def main() -> None:
    """Make the picture."""
    with tempfile.TemporaryDirectory() as root:
        folder = Path(root) / "mill"
        build_demo(folder)
        phone, report = _shots(folder)
        label = Image.open(folder / "label.png").convert("RGB")
        label = label.crop((0, 0, label.width, min(label.height, label.width // 2)))
        parts = [phone.resize((int(phone.width * HEIGHT / phone.height), HEIGHT))]
        parts.append(label.resize((300, int(label.height * 300 / label.width))))
        parts.append(report.resize((int(report.width * HEIGHT / report.height), HEIGHT)))
    _side_by_side(parts).quantize(COLOURS).save(FILE, optimize=True)


def _shots(folder: Path) -> tuple[Image.Image, Image.Image]:
    with sync_playwright() as run, served(folder / "wiretrack.db") as at:
        browser = run.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_context(**PHONE | WIDER, device_scale_factor=2).new_page()
        page.goto(f"{at.address}/sign-in")
        page.fill("input[name=code]", CODE)
        page.click("main button")
        page.goto(f"{at.address}/ringouts/P-WHEEL")
        page.click("summary:has-text('Before you begin')")  # which is read by then
        page.wait_for_timeout(1000)  # its buttons wait a moment
        phone = _picture(page.screenshot())
        sheet = browser.new_context(**REPORT).new_page()
        sheet.goto((folder / "report.html").as_uri())
        report = _picture(sheet.screenshot())
        browser.close()
    return phone, report


def _picture(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png)).convert("RGB")


def _side_by_side(parts: list[Image.Image]) -> Image.Image:
    width = sum(part.width for part in parts) + GAP * (len(parts) + 1)
    whole = Image.new("RGB", (width, HEIGHT + 2 * GAP), "#e6e6e6")
    left = GAP
    for part in parts:
        whole.paste(part, (left, GAP + (HEIGHT - part.height) // 2))
        left += part.width + GAP
    return whole


if __name__ == "__main__":
    main()
