# SPDX-License-Identifier: MIT
"""A conductor's page shows the path that `trace` follows, whichever way its record was read."""

from __future__ import annotations

from pathlib import Path

from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.find.showing import conductor_page
from wiretrack.tasks.find.tracing import trace

DEMO = Path(__file__).parents[2] / "demo_db" / "site.json"


def test_the_path_on_each_conductor_s_page_is_the_one_that_trace_follows(tmp_path: Path) -> None:
    new_site(tmp_path / "demo.db", "Demo")
    with open_registry(tmp_path / "demo.db") as registry:
        load_site(registry, DEMO)
        tags = [row["tag"] for row in registry.rows("SELECT tag FROM conductors")]
        assert len(tags) > 50
        for tag in tags:
            assert conductor_page(registry, tag).path == trace(registry, tag), tag
