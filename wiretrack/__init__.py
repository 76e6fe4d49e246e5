# SPDX-License-Identifier: MIT
"""A circuit and wire-label registry with continuity-test logging.

>>> import wiretrack
>>> from tempfile import TemporaryDirectory
>>> folder = TemporaryDirectory()
>>> site = wiretrack.new(f"{folder.name}/barn.db", "Barn")
>>> _ = site.load_file(wiretrack.shipped("demo_db") / "site.json")
>>> site.conductor("0AZ-EMTB").readings[-1].verdict.outcome
'pass'
>>> site.close(); folder.cleanup()
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wiretrack.electrical.findings import Finding as Finding
    from wiretrack.electrical.quantities import parse_length_m as parse_length_m
    from wiretrack.electrical.quantities import parse_resistance_ohm as parse_resistance_ohm
    from wiretrack.electrical.resistance import expected_resistance as expected_resistance
    from wiretrack.electrical.rules.marking import Marking as Marking
    from wiretrack.encoding import document as document
    from wiretrack.errors import AskedError as AskedError
    from wiretrack.errors import BadInputError as BadInputError
    from wiretrack.errors import NotFoundError as NotFoundError
    from wiretrack.errors import RegistryError as RegistryError
    from wiretrack.errors import SiteFileError as SiteFileError
    from wiretrack.errors import TagError as TagError
    from wiretrack.errors import WiretrackError as WiretrackError
    from wiretrack.files import shipped as shipped
    from wiretrack.library import OpenSite as OpenSite
    from wiretrack.library import new as new
    from wiretrack.library import open as open
    from wiretrack.model.entities import Circuit as Circuit
    from wiretrack.model.entities import Conductor as Conductor
    from wiretrack.model.entities import ConductorEnd as ConductorEnd
    from wiretrack.model.entities import Enclosure as Enclosure
    from wiretrack.model.entities import Pull as Pull
    from wiretrack.model.entities import Raceway as Raceway
    from wiretrack.model.entities import Reading as Reading
    from wiretrack.model.entity import PlannedTest as PlannedTest
    from wiretrack.model.entity import Verdict as Verdict
    from wiretrack.model.parts import Device as Device
    from wiretrack.model.parts import End as End
    from wiretrack.model.parts import FarEnd as FarEnd
    from wiretrack.model.parts import Instrument as Instrument
    from wiretrack.model.parts import SiteFacts as SiteFacts
    from wiretrack.model.parts import Terminal as Terminal
    from wiretrack.model.path import Path as Path
    from wiretrack.model.routes import Leg as Leg
    from wiretrack.model.routes import Route as Route
    from wiretrack.model.site import Site as Site
    from wiretrack.model.tags import Tag as Tag
    from wiretrack.model.tags import check_character as check_character
    from wiretrack.model.tags import parse_tag as parse_tag

__version__ = "0.1.0"

# Where each public name lives; a module is imported when one of its names is asked for.
_NAMES = {
    "electrical.findings": ("Finding",),
    "electrical.quantities": ("parse_length_m", "parse_resistance_ohm"),
    "electrical.resistance": ("expected_resistance",),
    "electrical.rules.marking": ("Marking",),
    "encoding": ("document",),
    "files": ("shipped",),
    "errors": (
        "AskedError", "BadInputError", "NotFoundError", "RegistryError", "SiteFileError",
        "TagError", "WiretrackError",
    ),
    "library": ("OpenSite", "new", "open"),
    "model.entities": (
        "Circuit", "Conductor", "ConductorEnd", "Enclosure", "Pull", "Raceway", "Reading",
    ),
    "model.entity": ("PlannedTest", "Verdict"),
    "model.parts": ("Device", "End", "FarEnd", "Instrument", "SiteFacts", "Terminal"),
    "model.path": ("Path",),
    "model.routes": ("Leg", "Route"),
    "model.site": ("Site",),
    "model.tags": ("Tag", "check_character", "parse_tag"),
}  # fmt: skip
_MODULE_OF = {name: module for module, names in _NAMES.items() for name in names}
__all__ = sorted(_MODULE_OF)


def __getattr__(name: str) -> Any:
    """Import a public name where it is asked for first."""
    if name not in _MODULE_OF:
        raise AttributeError(f"module 'wiretrack' has no attribute {name!r}")
    return getattr(import_module(f"wiretrack.{_MODULE_OF[name]}"), name)


def __dir__() -> list[str]:
    return [*globals(), *_MODULE_OF]
