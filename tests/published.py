# SPDX-License-Identifier: MIT
"""Write again what is published and follows from the code: ``python -m tests.published``.

The two schemas, and the manual's list of tables. Tests compare each with what the code makes.
"""

from __future__ import annotations

import json

from tests.manual import PAGES, sources_page
from wiretrack.exchange.schema import openapi, site_schema
from wiretrack.files import shipped


def main() -> None:
    """Write each of them."""
    for name, made, indent in (
        ("site.schema.json", site_schema(), 2),
        ("openapi.json", openapi(), 1),
    ):
        text = json.dumps(made, indent=indent, ensure_ascii=False)
        (shipped("schemas") / name).write_text(text + "\n", "utf-8")
    sources = PAGES["sources"]
    sources.write_text(sources_page(sources.read_text("utf-8")), "utf-8")


if __name__ == "__main__":
    main()
