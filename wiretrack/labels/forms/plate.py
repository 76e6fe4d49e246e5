# SPDX-License-Identifier: MIT
"""The plate form: a legend and a code side by side on one flat face."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack.errors import NotFoundError
from wiretrack.labels.faces import face_candidates, flat_face
from wiretrack.labels.forms.base import Case, EndCase, Form, why_no_face
from wiretrack.labels.subject import EndSubject, LabelKind
from wiretrack.late import dataclass
from wiretrack.model.parts import Device
from wiretrack.model.tags import make_box_payload

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.plan import Candidate, Fit
    from wiretrack.labels.subject import Asked, Contents
    from wiretrack.model.entities import Enclosure


@dataclass(frozen=True, kw_only=True)
class Plate(EndSubject):
    """A flat tag on an enclosure or a device."""

    heading = True
    code: str
    title: str | None = None
    where: str | None = None
    lines: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What the label is called when it is spoken of."""
        return self.code

    def legend(self, contents: Contents) -> tuple[str | None, ...]:
        """Return its code, its title, where it is, then its lines."""
        return (self.code, *(() if contents == "tag" else (self.title, self.where, *self.lines)))


class PlateForm(Form, LabelKind):
    """On flat stock: whatever has a legend, and a code or none."""

    name = kind = "plate"
    order = 6
    stock_form = "flat"
    of_parts = True

    def subjects(self, asked: Asked) -> list[Plate]:
        """Return the plate of a box, of its device (``BOX/DEVICE``), or of all (``BOX/*``)."""
        box = asked.enclosure
        if asked.part is None:
            payload = make_box_payload(box.code, asked.site.facts.base_address)
            return [Plate(code=box.code, title=box.name, where=box.where, payload=payload)]
        devices = asked.site.at(Device, "enclosure", box.code)
        wanted = [d for d in devices if asked.part == "*" or d.code.upper() == asked.part.upper()]
        if not wanted:
            raise NotFoundError(f"device in {box.code}", asked.part)
        return _device_plates(box, wanted)

    def fit(self, case: Case) -> Fit:
        """Return the plan of one flat face."""
        end = EndCase.of(case)
        stock, reason = end.stock, "A flat label carries code and legend side by side."
        if end.text_only:
            reason = "A flat label carries the legend alone."
        elif unread := end.unread():
            return end.refused(self, reason, *unread)

        def with_version(version: int | None) -> Iterator[Candidate]:
            return face_candidates(end.legend, stock, flat_face(stock), end.limits, version)

        if best := end.best(with_version, stock):
            return end.found(self, reason, *best)
        payload = "" if end.text_only else end.subject.payload
        why = why_no_face(end.legend, stock, payload, end.limits)
        return end.refused(self, reason, *end.or_shorter(why, with_version))


def _device_plates(box: Enclosure, devices: list[Device]) -> list[Plate]:
    """Return a plate for each device: its kind and rating, and the circuits on its poles."""
    landed: defaultdict[str | None, list[str]] = defaultdict(list)
    for end in box.ends:
        landed[end.here.terminal].append(end.conductor.circuit)
    plates = []
    for device in devices:
        rating = f"{device.rating_a:g} A" if device.rating_a else None
        circuits = (c for pole in device.poles for terminal in pole for c in landed[terminal])
        plates.append(
            Plate(
                code=device.code,
                title=" ".join(filter(None, (device.kind, rating))) or None,
                where=f"in {box.code}",
                lines=tuple(dict.fromkeys(circuits)),
            )
        )
    return plates


PLATE = PlateForm()
