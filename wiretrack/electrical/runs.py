# SPDX-License-Identifier: MIT
"""What the rules look at: a conductor with its circuit, and a raceway with its conductors."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from wiretrack.electrical.sizes import Size, parse_size
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.model.parts import SiteFacts
from wiretrack.model.tags import format_tag
from wiretrack.model.words import SPARE

if TYPE_CHECKING:
    from wiretrack.model.entities import Circuit, Conductor, Enclosure, Raceway
    from wiretrack.model.parts import Device

EARTHED_FUNCTIONS = ("PE", "FE")
NIPPLE_M = 0.6096  # 24 in, NEC chapter 9 table 1 note 4 (reprint; original not seen)


@dataclass(frozen=True)
class Termination:
    """A terminal that an end is landed on, and the devices that have it as a pole's or by name."""

    place: str
    devices: tuple[Device, ...] = ()


@dataclass(frozen=True)
class Protection:
    """The overcurrent device of a circuit.

    `low_a` and `high_a` differ where several devices may be it; `kind` is None where it isn't
    known. `name` says whose rating it is, and `clash` what in the record contradicts it.
    """

    low_a: float
    high_a: float
    name: str
    kind: str | None = None
    clash: str = ""


@dataclass(frozen=True)
class Wire:
    """One conductor and the circuit that it serves.

    `terminations` are those of its landed ends; `device` protects its circuit. `sets` conductors
    of its function, itself counted, are stated to lie in parallel, each in a set of its own;
    `alike` ones join the same two boxes, stated or not, and `unlike` names the facts in which
    those of the sets differ. `poles` of breakers and fuses are those that its ends are joined to.
    `served` are its circuits, where `circuit` is what several have in common.
    """

    conductor: Conductor
    circuit: Circuit
    terminations: tuple[Termination, ...] = ()
    device: Protection | None = None
    sets: int = 1
    alike: int = 1
    unlike: tuple[str, ...] = ()
    poles: tuple[str, ...] = ()
    served: tuple[Circuit, ...] = ()

    @property
    def name(self) -> str:
        """The tag as people see it, or circuit and function where there is none yet."""
        tag = self.conductor.tag
        return format_tag(tag) if tag else f"{self.circuit.code} {self.conductor.function}"

    @property
    def is_core(self) -> bool:
        """Whether it is a core of a cable, and no single wire."""
        return self.conductor.cable is not None or self.conductor.core is not None

    @property
    def is_bare(self) -> bool:
        """Whether it is stated to have no insulation."""
        return (self.conductor.insulation or "").strip().lower() == "bare"

    @property
    def size(self) -> Size | None:
        """The size, or None where it can't be read."""
        try:
            return parse_size(self.conductor.size)
        except BadInputError:
            return None

    @property
    def protection(self) -> Protection | None:
        """The overcurrent device: the circuit's own rating first."""
        stated = self.circuit.overcurrent_a
        if self.device is not None or stated is None:
            return self.device
        return Protection(stated, stated, "overcurrent device")

    @property
    def lacking_current(self) -> str:
        """What is unknown where its current is."""
        if len(self.served) > 1:
            return f"what {' and '.join(c.code for c in self.served)} put on it together"
        return f"current of the circuit: state max_current of {self.circuit.code}"

    @property
    def is_earth(self) -> bool:
        """Whether it only protects or earths."""
        return self.conductor.function in EARTHED_FUNCTIONS

    @property
    def carries_current(self) -> bool:
        """Whether it counts as carrying current where conductors heat each other."""
        return not self.is_earth and self.circuit.system not in ("signal", "earthing")


@dataclass(frozen=True)
class Run:
    """One raceway, the conductors in it and the boxes at both ends.

    `abandoned` conductors lie in it too, but belong to no circuit any more. `before_disconnect`
    tells whether PV conductors in it have no disconnect behind them yet.
    """

    raceway: Raceway
    wires: tuple[Wire, ...] = ()
    from_box: Enclosure | None = None
    to_box: Enclosure | None = None
    before_disconnect: bool | None = None
    site: SiteFacts = field(default_factory=SiteFacts)
    abandoned: tuple[Wire, ...] = ()

    @property
    def in_place(self) -> tuple[Wire, ...]:
        """All conductors that lie in it and take its room."""
        return (*self.wires, *self.abandoned)

    @property
    def ambient_c(self) -> float | None:
        """The ambient temperature stated for it, or else for the site."""
        own = self.raceway.ambient_c
        return self.site.ambient_max_c if own is None else own

    @property
    def is_nipple(self) -> bool | None:
        """Whether it is at most 24 in long; None where its length is unknown."""
        length_m = self.raceway.length_m
        return None if length_m is None else length_m <= NIPPLE_M

    @property
    def is_wireway(self) -> bool:
        """Whether it is a wireway, with rules of its own (NEC articles 376 and 378)."""
        return (self.raceway.type or "").strip().lower() == "wireway"

    @property
    def circuits(self) -> tuple[Circuit, ...]:
        """The circuits with a conductor in it, each once."""
        found = {c.code: c for wire in self.wires for c in wire.served or (wire.circuit,)}
        found.pop(SPARE, None)
        return tuple(found.values())

    @property
    def has_pv(self) -> bool:
        """Whether a conductor of a PV DC circuit lies in it."""
        return any(circuit.system == "dc-pv" for circuit in self.circuits)
