# SPDX-License-Identifier: MIT
"""A step of a ring-out as a drawing: both boxes, what is twisted there, what is touched."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack import svg
from wiretrack.late import dataclass
from wiretrack.ringout.bundle import PLACES
from wiretrack.svg import ALARM, DIM, INK, LIT, PAPER

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.prompts import Names

WIDTH, BOX, TOP, ROW = 360, 124, 46, 24  # user units: the drawing, a box, its head, an end
DOT = 108  # where an end's dot is, from the drawing's edge
MOST = 8  # ends of a box; of more only those are drawn that are held or touched
_MIDDLE = WIDTH / 2
_CABLE = "#dde3e8"


@dataclass(frozen=True)
class _Box:
    """A box with the ends drawn in it, in their order from above; `side` is 1 for the right one."""

    place: Place
    side: int
    rows: Mapping[str, float]

    def x(self, inwards: float) -> float:
        """Return where it is that far from the drawing's edge."""
        return WIDTH - inwards if self.side else inwards

    @property
    def anchor(self) -> str:
        """Where the words of an end begin."""
        return "end" if self.side else "start"


def step_svg(
    step: Action,
    names: Names,
    ends: Mapping[Place, Sequence[str]],
    held: Mapping[Place, Sequence[Sequence[str]]],
) -> str:
    """Return a step as an SVG document; `ends` are all ends of a box, `held` its groups now."""
    groups = {place: [list(group) for group in held[place]] for place in PLACES}
    touched = [end for group in step.parts for end, _ in group]
    joins = step.prompt.shape == "join"
    new = [[end for end, _ in group] for group in step.parts] if joins else []
    comes_off = step.prompt.shape == "unjoin" and not touched
    boxes = []
    for side, place in enumerate(PLACES):
        here = place == step.place
        wanted = [*groups[place], *(new if here else ()), touched if here and not joins else []]
        rows = _rows(ends[place], wanted)
        boxes.append(_Box(place, side, {end: TOP + ROW * (n + 0.8) for n, end in enumerate(rows)}))
    height = TOP + ROW * max(len(box.rows) for box in boxes) + 14
    body = [svg.rect(BOX, TOP + 4, WIDTH - 2 * BOX, 12, _CABLE)]
    for box in boxes:
        here = box.place == step.place
        words = ("go here" if step.prompt.shape == "walk" else "here") if here else ""
        body += _box(box, names.boxes[box.place], height, words)
        off = (LIT, "3 5") if here and comes_off else (DIM, None)
        body += [_twist(box, group, *off) for group in groups[box.place]]
        if here:
            body += [_twist(box, group, LIT) for group in new]
        body += [_end(box, end, lit=here and end in touched) for end in box.rows]
    body += _doing(step, boxes[PLACES.index(step.place)], touched)
    return svg.document(WIDTH, height, step.told(names), body)


def _rows(ends: Sequence[str], wanted: Iterable[Sequence[str]]) -> list[str]:
    """Return the ends to draw: those of a group side by side, then the others if they are few."""
    first = dict.fromkeys(end for group in wanted for end in group)
    return list(first | dict.fromkeys(ends)) if len(ends) <= MOST else list(first)


def _box(box: _Box, name: str, height: float, words: str) -> list[str]:
    x = WIDTH - BOX if box.side else 0
    frame = {"stroke": INK, "stroke_width": "4" if words else "1.5"}
    middle = x + BOX / 2
    return [
        svg.rect(x + 2, 2, BOX - 4, height - 4, PAPER, **frame),
        svg.text(middle, 20, name, 15, text_anchor="middle", font_weight="bold"),
        svg.text(middle, 36, words, 14, LIT, text_anchor="middle"),
    ]


def _end(box: _Box, end: str, *, lit: bool) -> str:
    y = box.rows[end]
    bold = "bold" if lit else None
    name = svg.text(
        box.x(10), y + 5, end, 14, text_anchor=box.anchor, font_weight=bold, font_family="monospace"
    )
    return svg.circle(box.x(DOT), y, 6 if lit else 4, ALARM if lit else INK) + name


def _twist(box: _Box, group: Sequence[str], colour: str, dashes: str | None = None) -> str:
    """Return the bracket that holds a group together; dashed where it comes off."""
    ys = [box.rows[end] for end in group]
    inner, outer = box.x(DOT), box.x(DOT - 16)
    legs = "".join(f"M{inner:g} {y:.1f}H{outer:g}" for y in ys)
    return svg.path(
        f"{legs}M{outer:g} {min(ys):.1f}V{max(ys):.1f}", colour, 4, stroke_dasharray=dashes
    )


def _doing(step: Action, box: _Box, touched: Sequence[str]) -> list[str]:
    """Return what is done between the boxes: a walk, or the meter with its leads."""
    if step.prompt.shape == "walk":
        way = 1 if box.side else -1
        tip, level = _MIDDLE + way * 40, TOP + 44
        line = svg.path(f"M{_MIDDLE - way * 40:g} {level}H{tip:g}", LIT, 4)
        head = f"M{tip + way * 12:g} {level}L{tip:g} {level - 8}V{level + 8}z"
        return [line, svg.shape(head, LIT)]
    if not step.is_touch:
        goes_on = [(what, end) for group in step.parts for end, what in group if what]
        x, anchor = box.x(BOX + 6), "end" if box.side else "start"
        return [
            svg.text(x, box.rows[end] + 5, what.removesuffix(" on"), 14, LIT, text_anchor=anchor)
            for what, end in goes_on
        ]
    y = sum(box.rows[end] for end in touched) / len(touched)
    leads = [
        svg.path(f"M{_MIDDLE:g} {y:.1f}L{box.x(DOT):g} {box.rows[end]:.1f}", colour, 3)
        for end, colour in zip(touched, _leads(step), strict=True)
    ]
    meter = svg.circle(_MIDDLE, y, 17, PAPER, stroke=INK, stroke_width="3")
    return [*leads, meter, svg.text(_MIDDLE, y + 6, "Ω", 17, text_anchor="middle")]


def _leads(step: Action) -> list[str]:
    """Return the colours of the leads on a touch's ends."""
    marks = [what for group in step.parts for _, what in group]
    if marks[0] == "black:":
        return [INK, ALARM]
    return [ALARM, INK]
