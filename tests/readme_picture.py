# SPDX-License-Identifier: MIT
"""Pictures of README and manual, from the running product: ``python -m tests.readme_picture``.

README's is a step of a ring-out on a phone, the label of one end, and a page of the report, side by
side; the manual's are two sheets of a report, and three screens of a binder on a phone.
"""

from __future__ import annotations

import io
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image

from tests.pdf import opened
from tests.web.browsing import PHONE, browser, served
from tests.web.conftest import CODE
from wiretrack.cli.group import run
from wiretrack.manual import PICTURES
from wiretrack.tasks.demo import build_demo

HEIGHT, GAP, COLOURS = 620, 24, 128
WIDER: dict[str, Any] = {"viewport": {"width": 412, "height": 732}}
REPORT: dict[str, Any] = {"viewport": {"width": 760, "height": 1075}}


def main() -> None:
    """Make the pictures."""
    with tempfile.TemporaryDirectory() as root:
        folder = Path(root) / "mill"
        build_demo(folder)
        phone, report = _shots(folder)
        _put("report.png", _sheets(folder))
        _put("binder.png", _binder(folder))
        label = Image.open(folder / "label.png").convert("RGB")
        label = label.crop((0, 0, label.width, min(label.height, label.width // 2)))
        parts = [phone.resize((int(phone.width * HEIGHT / phone.height), HEIGHT))]
        parts.append(label.resize((300, int(label.height * 300 / label.width))))
        parts.append(report.resize((int(report.width * HEIGHT / report.height), HEIGHT)))
    _put("readme.png", parts)


def _shots(folder: Path) -> tuple[Image.Image, Image.Image]:
    with browser() as chromium, served(folder / "wiretrack.db") as at:
        page = chromium.new_context(**PHONE | WIDER, device_scale_factor=2).new_page()
        page.goto(f"{at.address}/sign-in")
        page.fill("input[name=code]", CODE)
        page.click("main button")
        page.goto(f"{at.address}/ringouts/P-WHEEL")
        page.click("summary:has-text('Before you begin')")  # which is read by then
        page.wait_for_timeout(1000)  # its buttons wait a moment
        phone = _picture(page.screenshot())
        sheet = chromium.new_context(**REPORT).new_page()
        sheet.goto((folder / "report.html").as_uri())
        report = _picture(sheet.screenshot())
    return phone, report


def _sheets(folder: Path) -> list[Image.Image]:
    file = folder / "hoist.pdf"
    run(["--db", str(folder / "wiretrack.db"), "report", "HOIST", "--out", str(file)])
    with opened(file) as pdf:
        return [pdf[at].render(scale=1.17).to_pil().convert("RGB") for at in (3, 4)]


def _binder(folder: Path) -> list[Image.Image]:
    """Return a phone's view of the search, a conductor's record, its insulation over the years."""
    run(["--db", str(folder / "wiretrack.db"), "binder", str(folder / "binder")])
    with browser() as chromium:
        page = chromium.new_context(**PHONE).new_page()
        page.goto((folder / "binder" / "index.html").as_uri())
        page.fill("#words", "sluice")
        page.wait_for_timeout(500)
        shots = [_picture(page.screenshot())]
        page.click("text=QF1-895O")
        page.wait_for_load_state("load")
        shots.append(_picture(page.screenshot()))
        trend = page.locator("[id='QF1-895O'] h4:has-text('over the years') >> nth=0")
        trend.evaluate("found => found.scrollIntoView()")
        shots.append(_picture(page.screenshot()))
    return shots


def _picture(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png)).convert("RGB")


def _put(name: str, parts: list[Image.Image]) -> None:
    """Write pictures side by side as one."""
    height = max(part.height for part in parts)
    width = sum(part.width for part in parts) + GAP * (len(parts) + 1)
    whole = Image.new("RGB", (width, height + 2 * GAP), "#e6e6e6")
    left = GAP
    for part in parts:
        whole.paste(part, (left, GAP + (height - part.height) // 2))
        left += part.width + GAP
    whole.quantize(COLOURS).save(PICTURES / name, optimize=True)


if __name__ == "__main__":
    main()
