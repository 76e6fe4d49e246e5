# SPDX-License-Identifier: MIT
"""Every group of pages, in the order in which they are registered."""

from __future__ import annotations

from wiretrack.web import (
    api,
    assets,
    faults,
    finding,
    joined,
    open_points,
    records,
    ringouts,
    searches,
    signing_in,
    site_map,
    strings,
    testing,
    troubleshooting,
)

ALL = (
    assets.pages,
    signing_in.pages,
    api.pages,
    finding.pages,
    open_points.pages,
    ringouts.pages,
    testing.pages,
    troubleshooting.pages,
    searches.pages,
    faults.pages,
    joined.pages,
    strings.pages,
    site_map.pages,
    records.pages,
)
