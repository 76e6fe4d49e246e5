# SPDX-License-Identifier: MIT
"""What must agree about retired circuits and conductors, and those that follow them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.exchange.relations import in_circles
from wiretrack.exchange.texts import shown
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from wiretrack.exchange.decode import Draft, Drafts
    from wiretrack.exchange.known import Known
    from wiretrack.exchange.places import Faults, Path
    from wiretrack.exchange.raw import RawSite


def check_retirement(drafts: Drafts, known: Known, raw: RawSite) -> None:
    """Add a fault where a part of the work hangs on what is retired, or the other way round."""
    faults, conductors = raw.faults, drafts["conductors"]
    circuits = {draft["code"]: draft for draft in drafts["circuits"] if "code" in draft}
    refused = faults.paths()
    for number, draft in enumerate(conductors):
        _check_reason(number, draft, refused, faults)
        _check_circuit(number, draft, circuits, known, faults)
    _check_followed(conductors, known, faults)


def _check_reason(number: int, draft: Draft, refused: set[Path], faults: Faults) -> None:
    if ("retired_at" in draft) == ("retired_because" in draft):
        return
    missing = "retired_because" if "retired_at" in draft else "retired_at"
    path: Path = ("conductors", number, missing)
    if path in refused:  # it is there, but not as it should be; that has been said already
        return
    message = "A retired conductor has both retired_at and retired_because. Add this one."
    faults.add(path, message)


def _check_circuit(
    number: int, draft: Draft, circuits: dict[str, Draft], known: Known, faults: Faults
) -> None:
    for code in () if "retired_at" in draft else draft.get("circuit", ()):
        in_file = circuits.get(code)
        if "retired_at" in in_file if in_file is not None else known.is_retired("circuit", code):
            message = f"The circuit {shown(code)} is retired, this conductor of it is not."
            message += " Retire it too, or correct one."
            faults.add(("conductors", number, "circuit"), message)


def _check_followed(conductors: list[Draft], known: Known, faults: Faults) -> None:
    by_tag = {draft["tag"]: draft for draft in conductors if "tag" in draft}
    circular = in_circles({tag: draft.get("follows") for tag, draft in by_tag.items()})
    for number, draft in enumerate(conductors):
        followed = draft.get("follows")
        if followed is None:
            continue
        path = ("conductors", number, "follows")
        if draft.get("tag") in circular:
            faults.add(path, "The conductor follows itself. Name the one that it came from.")
            continue
        in_file = by_tag.get(followed)
        if not ("retired_at" in in_file if in_file else known.is_retired("conductor", followed)):
            message = f"{format_tag(followed)} is not retired, so none can follow it."
            faults.add(path, f"{message} Retire it, or leave this out.")
