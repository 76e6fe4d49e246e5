# SPDX-License-Identifier: MIT
"""Every error a person may meet, in one tree; ``str()`` of one is the whole message.

A message says what happened to which value, then what to do about it: ``WHAT. HINT``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence


class WiretrackError(Exception):
    """Base of all errors meant for people; `exit_status` is what the command line ends with."""

    exit_status: ClassVar[int] = 2


class BadInputError(WiretrackError, ValueError):
    """What was typed or handed over can't be taken; nothing was written."""


class OutOfRangeError(BadInputError):
    """A number is outside what is possible or allowed."""

    def __init__(self, name: str, value: float, unit: str, allowed: str) -> None:
        super().__init__(name, value, unit, allowed)
        self.name, self.value, self.unit, self.allowed = name, value, unit, allowed

    def __str__(self) -> str:
        shown = f"{self.value:g} {self.unit}".strip()
        return f"{self.name} is {shown}; it must be {self.allowed}."


class QuantityError(BadInputError):
    """A text isn't a quantity of the wanted kind."""

    def __init__(self, text: str, wanted: str, examples: str) -> None:
        super().__init__(text, wanted, examples)
        self.text, self.wanted, self.examples = text, wanted, examples

    def __str__(self) -> str:
        return f"'{self.text}' is not {self.wanted}. Write it like {self.examples}."


class UnlikelyValueError(BadInputError):
    """A value is possible, but what was meant is likely another; `choices` are the two."""

    def __init__(self, text: str, shown: str, choices: tuple[str, str]) -> None:
        super().__init__(text, shown, choices)
        self.text, self.shown, self.choices = text, shown, choices

    def __str__(self) -> str:
        likely, literal = self.choices
        return (
            f"'{self.text}' is {self.shown} of insulation, a dead short. "
            f"Write {likely} if it is in MΩ, or {literal} if it is so."
        )


class TableEntryError(BadInputError):
    """A published table has no such row; the nearest ones it does have are named."""

    def __init__(self, table: str, entry: str, nearest: Sequence[str]) -> None:
        super().__init__(table, entry, nearest)
        self.table, self.entry, self.nearest = table, entry, tuple(nearest)

    def __str__(self) -> str:
        near = f" Nearest in it: {', '.join(self.nearest)}." if self.nearest else ""
        return f"{self.table} has no entry '{self.entry}'.{near}"


class TagError(BadInputError):
    """A text isn't a tag, or its check character is wrong."""

    def __init__(self, text: str, why: str, meant: Sequence[str] = ()) -> None:
        super().__init__(text, why, meant)
        self.text, self.why, self.meant = text, why, tuple(meant)

    def __str__(self) -> str:
        hint = f" Did you mean {' or '.join(self.meant)}?" if self.meant else ""
        return f"'{self.text}' is not a tag: {self.why}.{hint}"


class NotFoundError(BadInputError, LookupError):
    """The registry holds no such record."""

    def __init__(self, what: str, code: str, near: Sequence[str] = ()) -> None:
        super().__init__(what, code, near)
        self.what, self.code, self.near = what, code, tuple(near)

    def __str__(self) -> str:
        if self.near:
            hint = f"Close to it: {', '.join(self.near)}."
        else:
            hint = "Look for it with: wiretrack find TEXT."
        subject = f"No {self.what} is" if self.what else "Nothing here is"
        return f"{subject} called '{self.code}'. {hint}"


class RetiredError(BadInputError):
    """A conductor or circuit left the work on a `day`; what follows it is named."""

    def __init__(self, what: str, became: str, day: str, followed_by: Sequence[str] = ()) -> None:
        super().__init__(what, became, day, followed_by)
        self.what, self.became, self.day = what, became, day
        self.followed_by = tuple(followed_by)

    def __str__(self) -> str:
        hint = "It is kept for the record only."
        if self.followed_by:
            hint = f"Take what follows it: {' or '.join(self.followed_by)}."
        return f"{self.what} was {self.became} on {self.day}. {hint}"


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a site file: where it is and what is wrong there."""

    place: str
    message: str

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else self.message


class SiteFileError(BadInputError):
    """A site file can't be taken; every fault in it is listed, each with its place."""

    def __init__(self, file: str, faults: Iterable[Fault]) -> None:
        self.file, self.faults = file, tuple(faults)
        super().__init__(file, self.faults)

    def __str__(self) -> str:
        shown = "; ".join(str(fault) for fault in self.faults[:20])
        rest = f"; and {len(self.faults) - 20} more" if len(self.faults) > 20 else ""
        count = f"{len(self.faults)} fault{'s' if len(self.faults) != 1 else ''}"
        return f"{self.file} was not loaded, {count}: {shown}{rest}"


class FileWriteError(BadInputError):
    """A file or folder can't be written; what stood there before is untouched."""

    def __init__(self, path: str, why: str) -> None:
        super().__init__(path, why)
        self.path, self.why = path, why

    def __str__(self) -> str:
        return f"{self.path} can't be written: {self.why}. Nothing was changed; name another place."


class BinderPlaceError(BadInputError):
    """A binder can't go where it was wanted; what stands there is untouched."""

    def __init__(self, path: str, why: str, hint: str) -> None:
        super().__init__(path, why, hint)
        self.path, self.why, self.hint = path, why, hint

    def __str__(self) -> str:
        return f"{self.path} {self.why}. {self.hint}."


class BundleError(BadInputError):
    """A bundle to be rung out can't be as described."""

    def __init__(self, what: str, hint: str) -> None:
        super().__init__(what, hint)
        self.what, self.hint = what, hint

    def __str__(self) -> str:
        return f"{self.what}. {self.hint}."


class StepError(BadInputError):
    """A ring-out step can't be done now, or its answer can't be understood."""

    def __init__(self, what: str, hint: str) -> None:
        super().__init__(what, hint)
        self.what, self.hint = what, hint

    def __str__(self) -> str:
        return f"{self.what}. {self.hint}."


class RegistryError(WiretrackError):
    """The registry can't be used: missing, not a registry, damaged, locked or too new."""

    exit_status = 3

    def __init__(self, path: str, why: str, hint: str = "") -> None:
        super().__init__(path, why, hint)
        self.path, self.why, self.hint = path, why, hint

    def __str__(self) -> str:
        return f"{self.path} {self.why}.{' ' + self.hint if self.hint else ''}"


class DamagedRegistryError(RegistryError):
    """The registry is one, and can't be read through: its file was cut off or overwritten."""


class StockFileError(SiteFileError):
    """A file of label stocks can't be taken; every fault in it is listed, each with its place."""


class LabelError(BadInputError):
    """A label can't be made for this end; nothing was written."""

    def __init__(self, tag: str, end: str, why: str, hint: str = "") -> None:
        super().__init__(tag, end, why, hint)
        self.tag, self.end, self.why, self.hint = tag, end, why, hint

    def __str__(self) -> str:
        hint = f" {self.hint}" if self.hint else ""
        end = f", {self.end} end," if self.end else ""
        return f"The label of {self.tag}{end} can't be made: {self.why}.{hint}"


class GlyphError(BadInputError):
    """The labels' font can't show a character."""

    def __init__(self, text: str, character: str, name: str) -> None:
        super().__init__(text, character, name)
        self.text, self.character, self.name = text, character, name

    def __str__(self) -> str:
        return (
            f"'{self.text}' can't be printed: the labels' font has no {self.name} "
            f"(U+{ord(self.character):04X}). Write it with Latin letters, figures and signs."
        )


class PictureError(BadInputError):
    """A picture can't be read."""

    def __init__(self, file: str, why: str, hint: str = "") -> None:
        super().__init__(file, why, hint)
        self.file, self.why, self.hint = file, why, hint

    def __str__(self) -> str:
        return f"{self.file} {self.why}.{' ' + self.hint if self.hint else ''}"


class PrinterError(BadInputError):
    """A printer isn't known, refuses a job or gives it up; nothing is noted as printed."""

    def __init__(self, printer: str, why: str, hint: str) -> None:
        super().__init__(printer, why, hint)
        self.printer, self.why, self.hint = printer, why, hint

    def __str__(self) -> str:
        name = f"Printer '{self.printer}'" if self.printer else "The spooler"
        return f"{name} {self.why}. {self.hint}."


class FieldError(BadInputError):
    """One field of what was handed over can't be taken; nothing was written.

    `now` is what it names, as it is by now, where that is why.
    """

    def __init__(self, field: str, message: str, now: object = None) -> None:
        super().__init__(field, message, now)
        self.field, self.message, self.now = field, message, now

    def __str__(self) -> str:
        return self.message


class SiteDiffersError(BadInputError):
    """A file says other things of the site than the registry; nothing was loaded."""

    def __init__(self, given: Mapping[str, object], known: Mapping[str, object]) -> None:
        super().__init__(given, known)
        self.given, self.known = dict(given), dict(known)

    def __str__(self) -> str:
        told = "; ".join(
            f"{key} is '{self.known[key]}' in the registry, '{value}' in the file"
            for key, value in self.given.items()
        )
        return f"The file is of another site, or it is wrong: {told}. Correct it, or leave it out."


class AskedError(BadInputError):
    """What was asked for is unusual: a person may say that it is so (`option`)."""

    def __init__(self, field: str, what: str, option: str) -> None:
        super().__init__(field, what, option)
        self.field, self.what, self.option = field, what, option

    def __str__(self) -> str:
        return f"{self.what} If it is so, repeat it with {self.option}."


class ReplayError(BadInputError):
    """A reading with this identifier is stored already, and it isn't the same reading."""

    def __init__(self, record: str) -> None:
        super().__init__(record)
        self.record = record

    def __str__(self) -> str:
        return (
            f"Reading {self.record} is stored already with other content."
            " Send a new reading under a new id, with supersedes where it replaces that one."
        )


class ChangedMeanwhileError(BadInputError):
    """What somebody acted on is no longer so; `now` is what it is."""

    def __init__(self, what: str, now: object = None) -> None:
        super().__init__(what, now)
        self.what, self.now = what, now

    def __str__(self) -> str:
        return f"{self.what} was changed meanwhile. Look at it as it is now, then decide."


class FaultLocationError(BadInputError):
    """A fault can't be placed from what was measured or is recorded; says what would settle it."""

    def __init__(self, what: str, hint: str) -> None:
        super().__init__(what, hint)
        self.what, self.hint = what, hint

    def __str__(self) -> str:
        return f"{self.what}. {self.hint}."
