# SPDX-License-Identifier: MIT
"""Labels as they would be printed, to be looked at first: in a terminal and as a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.files import file_in_place
from wiretrack.labels.draw import draw_label
from wiretrack.labels.fit import fit
from wiretrack.labels.preview import preview, preview_picture
from wiretrack.labels.stocks import get_stock, load_stocks
from wiretrack.tasks.label.kinds import Wanted, wanted_subjects

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.labels.legend import Contents
    from wiretrack.store.store import Registry


@dataclass(frozen=True, kw_only=True)
class Sight:
    """How labels are looked at: on which stock, how many, how wide, and in which picture."""

    stock: str
    columns: int = 80
    most: int = 3
    out: Path | None = None
    user_files: tuple[Path, ...] = ()
    contents: Contents = "full"
    text_only: bool = False


def preview_wanted(registry: Registry, wanted: Wanted, sight: Sight) -> dict[str, Any]:
    """Return the first labels as text; with `sight.out` make a PNG of them too.

    Nothing is noted as printed.

    Raises
    ------
    WiretrackError
        If something isn't known, a label can't be made, or the picture can't be written.
    """
    if sight.out is not None and sight.out.suffix.lower() != ".png":
        raise BadInputError(f"'{sight.out.name}' isn't a .png. End the picture's name in it.")
    stock = get_stock(sight.stock, load_stocks(*sight.user_files))
    found = wanted_subjects(registry, wanted, stock)
    shown = found[: sight.most]
    fits = [fit(s, stock, contents=sight.contents, text_only=sight.text_only) for s in shown]
    drawn = [draw_label(s, found_fit, stock) for s, found_fit in zip(shown, fits, strict=True)]
    if not drawn:
        raise BadInputError("There are no labels to show. Name something that has conductors.")
    if sight.out is not None:
        inks = [found_fit.plan.ink if found_fit.plan else "black" for found_fit in fits]
        with file_in_place(sight.out) as stream:
            preview_picture(drawn, inks, stock).save(stream, "PNG", optimize=True)
    rows = [
        {
            "tag": found_fit.tag,
            "end": found_fit.end,
            "form": found_fit.form,
            "letter_mm": found_fit.letter_mm and round(found_fit.letter_mm, 2),
            "preview": preview(picture, sight.columns),
        }
        for found_fit, picture in zip(fits, drawn, strict=True)
    ]
    return {
        "labels": rows,
        "left_out": len(found) - len(shown),
        "file": str(sight.out) if sight.out else None,
    }
