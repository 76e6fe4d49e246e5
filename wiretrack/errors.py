# SPDX-License-Identifier: MIT
"""Every error a person may meet, in one tree: facts, which each face puts into its own words.

An error says what happened to which value, and carries a `Hint` of what to do about it. ``str()``
of one is what happened, with the hint as plain words; the command line and the pages word the
hint with their own options, commands and labels.
"""

from __future__ import annotations

import re
import shlex
from typing import TYPE_CHECKING, ClassVar

from wiretrack.late import dataclass, pattern

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

_FIELD = pattern(r"\{([a-z_]+)\}")


@dataclass(frozen=True)
class Hint:
    """What to do about something, as data.

    `words` are sentences in which ``{name}`` is a field, that each face calls as it does; `job` is
    one of the jobs that a face may lead on to ("show", "find"), and `about` the code or tag that
    it is to be done with.
    """

    words: str = ""
    job: str = ""
    about: str = ""

    def worded(self, field: Callable[[str], str], job: Callable[[Hint], str]) -> str:
        """Return the hint with fields and job as a face words them.

        Where the face has no name for a field (`field` raises ``LookupError``), the words are left
        out: they lead nowhere there.
        """
        try:
            told = _FIELD.sub(lambda found: field(found[1]), self.words)
        except LookupError:
            told = ""
        return " ".join(filter(None, (told, job(self) if self.job else "")))

    def __str__(self) -> str:
        return self.worded(lambda name: name.replace("_", " "), lambda hint: "")


class WiretrackError(Exception):
    """Base of all errors meant for people.

    `what` is what happened, a sentence; `field` the field that it happened to, as the site file or
    the form calls it; `value` what was given and `allowed` what may be, where there is one.
    `exit_status` is what the command line ends with.
    """

    exit_status: ClassVar[int] = 2
    what: str = ""
    hint: Hint = Hint()
    field: str = ""
    value: object = None
    allowed: str = ""

    def __init__(
        self, what: str, hint: Hint | str = "", *, field: str = "", value: object = None
    ) -> None:
        super().__init__(what, hint, field, value)
        self.what, self.field, self.value = _ended(what), field, value
        self.hint = hint if isinstance(hint, Hint) else Hint(_ended(hint))

    def __reduce__(self) -> tuple[Callable[..., WiretrackError], tuple[object, ...]]:
        """Let an error pass from a worker process, whatever its class is made from."""
        return _remade, (type(self), self.args, self.__dict__)

    @property
    def code(self) -> str:
        """What kind of error it is, in a word for programs: ``not-found``."""
        name = type(self).__name__.removesuffix("Error")
        return re.sub(r"(?<!^)(?=[A-Z])", "-", name).lower()

    def worded(self, hint_words: Callable[[Hint], str]) -> str:
        """Return the whole message, its hint in a face's words."""
        return " ".join(filter(None, (self.what, hint_words(self.hint))))

    def __str__(self) -> str:
        return self.worded(str)


def _remade(
    kind: type[WiretrackError], args: tuple[object, ...], state: dict[str, object]
) -> WiretrackError:
    error = kind.__new__(kind)
    error.args = args
    error.__dict__.update(state)
    return error


def _ended(text: str) -> str:
    return text if not text or text[-1] in ".?!" else f"{text}."


class BadInputError(WiretrackError, ValueError):
    """What was typed or handed over can't be taken; nothing was written."""


class OutOfRangeError(BadInputError):
    """A number is outside what is possible or allowed."""

    def __init__(self, name: str, value: float, unit: str, allowed: str) -> None:
        shown = f"{value:g} {unit}".strip()
        super().__init__(f"{name} is {shown}; it must be {allowed}.", value=value)
        self.allowed = allowed


class QuantityError(BadInputError):
    """A text isn't a quantity of the wanted kind."""

    def __init__(self, text: str, wanted: str, examples: str) -> None:
        super().__init__(f"'{text}' is not {wanted}.", f"Write it like {examples}.", value=text)
        self.allowed = examples


class AmbiguousError(BadInputError):
    """A text can be read in several ways; `choices` are the readings, each as it may be typed."""

    def __init__(self, text: str, why: str, choices: Sequence[str]) -> None:
        named = " or ".join(choices) if len(choices) < 3 else f"one of: {', '.join(choices[:6])}"
        super().__init__(f"'{text}' {why}.", f"Write {named}.", value=text)
        self.choices = tuple(choices)


class UnlikelyValueError(AmbiguousError):
    """A value is possible, but what was meant is likely another; `choices` are the two."""

    def __init__(self, text: str, shown: str, choices: tuple[str, str]) -> None:
        likely, literal = choices
        super().__init__(text, shown, choices)
        self.what = f"'{text}' is {shown} of insulation, a dead short."
        self.hint = Hint(f"Write {likely} if it is in MΩ, or {literal} if it is so.")


class TableEntryError(BadInputError):
    """A published table has no such row; the nearest ones it does have are named.

    `job` is the one that shows all.
    """

    def __init__(self, table: str, entry: str, nearest: Sequence[str], job: str = "") -> None:
        near = f"Nearest in it: {', '.join(nearest)}." if nearest else ""
        super().__init__(f"{table} has no entry '{entry}'.", Hint(near, job=job), value=entry)
        self.nearest = tuple(nearest)


class TagError(BadInputError):
    """A text isn't a tag, or its check character is wrong."""

    def __init__(self, text: str, why: str, meant: Sequence[str] = ()) -> None:
        hint = f"Did you mean {' or '.join(meant)}?" if meant else ""
        super().__init__(f"'{text}' is not a tag: {why}.", hint, value=text)
        self.why, self.meant = why, tuple(meant)


class NotFoundError(BadInputError, LookupError):
    """The registry holds no such record."""

    def __init__(self, kind: str, name: str, near: Sequence[str] = ()) -> None:
        subject = f"No {kind} is" if kind else "Nothing here is"
        hint = Hint(f"Close to it: {', '.join(near)}.") if near else Hint(job="find")
        super().__init__(f"{subject} called '{name}'.", hint, value=name)
        self.kind, self.name, self.near = kind, name, tuple(near)


class RetiredError(BadInputError):
    """A conductor or circuit left the work on a `day`; what follows it is named."""

    def __init__(self, what: str, became: str, day: str, followed_by: Sequence[str] = ()) -> None:
        hint = "It is kept for the record only."
        if followed_by:
            hint = f"Take what follows it: {' or '.join(followed_by)}."
        super().__init__(f"{what} was {became} on {day}.", hint, value=what)


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
        shown = "; ".join(str(fault) for fault in self.faults[:20])
        rest = f"; and {len(self.faults) - 20} more" if len(self.faults) > 20 else ""
        count = f"{len(self.faults)} fault{'s' if len(self.faults) != 1 else ''}"
        super().__init__(f"{file} was not loaded, {count}: {shown}{rest}", value=file)


class HeadingsError(BadInputError):
    """Nobody says what headings of a sheet mean; `likely` has the field of each, "" for none."""

    def __init__(
        self, where: str, unsure: Sequence[str], likely: Sequence[tuple[str, str]]
    ) -> None:
        self.likely = tuple(likely)
        maps = (f"{{map}} {shlex.quote(f'{name}={field}')}" for name, field in likely)
        super().__init__(
            f"{where}: what headings mean isn't sure: {', '.join(unsure)}.",
            Hint(f"Say it, an empty one leaves its column out: {' '.join(maps)}"),
            value=[heading for heading, _ in likely],
        )


class UnusableError(BadInputError):
    """A file, folder or printer can't be used, and why; nothing was written."""

    def __init__(self, name: str, why: str, hint: Hint | str = "") -> None:
        super().__init__(f"{name} {why}.", hint, value=name)


class FileWriteError(UnusableError):
    """A file or folder can't be written; what stood there before is untouched."""

    def __init__(self, path: str, why: str) -> None:
        hint = "Nothing was changed; name another place."
        super().__init__(path, f"can't be written: {why}", hint)


class BinderPlaceError(UnusableError):
    """A binder can't go where it was wanted; what stands there is untouched."""


class ProcessLostError(WiretrackError):
    """A process that did a part of the work is gone before it was done; nothing was written."""

    exit_status = 70

    def __init__(self) -> None:
        what = "Something stopped a part of wiretrack, or memory ran out"
        super().__init__(what, "Nothing was written. Close other programs and try again.")


class BundleError(BadInputError):
    """A bundle to be rung out can't be as described."""


class StepError(BadInputError):
    """A ring-out step can't be done now, or its answer can't be understood."""


class RegistryError(WiretrackError):
    """The registry can't be used: missing, not a registry, damaged, locked or too new."""

    exit_status = 3

    def __init__(self, path: str, why: str, hint: Hint | str = "") -> None:
        super().__init__(f"{path} {why}.", hint, value=path)
        self.path, self.why = path, why


class DamagedRegistryError(RegistryError):
    """The registry is one, and can't be read through: its file was cut off or overwritten."""


class StockFileError(SiteFileError):
    """A file of label stocks can't be taken; every fault in it is listed, each with its place."""


class LabelError(BadInputError):
    """A label can't be made for this end; nothing was written."""

    def __init__(self, tag: str, end: str, why: str, hint: Hint | str = "") -> None:
        shown = f", {end} end," if end else ""
        super().__init__(f"The label of {tag}{shown} can't be made: {why}.", hint, value=tag)
        self.tag, self.end, self.why = tag, end, why


class GlyphError(BadInputError):
    """The labels' font can't show a character."""

    def __init__(self, text: str, character: str, name: str) -> None:
        super().__init__(
            f"'{text}' can't be printed: the labels' font has no {name} (U+{ord(character):04X}).",
            "Write it with Latin letters, figures and punctuation.",
            value=text,
        )


class PictureError(UnusableError):
    """A picture can't be read."""


class PrinterError(UnusableError):
    """A printer isn't known, refuses a job or can't begin it; nothing is noted as printed."""

    def __init__(self, printer: str, why: str, hint: Hint | str) -> None:
        super().__init__(f"Printer '{printer}'" if printer else "The spooler", why, hint)


class FieldError(BadInputError):
    """One field of what was handed over can't be taken; nothing was written.

    `now` is what it names, as it is by now, where that is why.
    """

    def __init__(self, field: str, why: WiretrackError | str, now: object = None) -> None:
        if isinstance(why, WiretrackError):
            super().__init__(why.what, why.hint, field=field, value=why.value)
        else:
            super().__init__(why, field=field)
        self.now = now


class SiteDiffersError(BadInputError):
    """A file says other things of the site than the registry; nothing was loaded."""

    def __init__(self, given: Mapping[str, object], known: Mapping[str, object]) -> None:
        told = "; ".join(
            f"{key} is '{known[key]}' in the registry, '{value}' in the file"
            for key, value in given.items()
        )
        super().__init__(
            f"The file is of another site, or it is wrong: {told}.", "Correct it, or leave it out."
        )
        self.given, self.known = dict(given), dict(known)


class RestsOnError(BadInputError):
    """A change can't be taken back alone, or at all: later work rests on it.

    `resting` names that work; `changes` are the later changes that can be taken back together with
    it, newest first, or nothing.
    """

    def __init__(self, change: str, resting: Sequence[str], changes: Sequence[str] = ()) -> None:
        shown = [*dict.fromkeys(resting)]
        more = f" and {len(shown) - 3} more" if len(shown) > 3 else ""
        told = f"{', '.join(shown[:3])}{more}"
        if changes:
            first = Hint("Take that back first:", job="undo", about=changes[0])
            super().__init__(f"Later work rests on change {change}: {told}.", first, value=change)
        else:
            hint = "Retire it instead." if "stays for good" in told and "conductor" in told else ""
            super().__init__(f"Change {change} stays: {told}.", hint, value=change)
        self.resting, self.changes = tuple(resting), tuple(changes)


class AskedError(BadInputError):
    """What was asked for is unusual: a person may say that it is so, by the field `sure`."""

    def __init__(self, field: str, what: str, sure: str) -> None:
        hint = Hint(f"If it is so, repeat it with {{{sure}}}.")
        super().__init__(what, hint, field=field)
        self.sure = sure


class ReplayError(BadInputError):
    """A reading with this identifier is stored already, and it isn't the same reading."""

    def __init__(self, record: str) -> None:
        super().__init__(
            f"Reading {record} is stored already with other content.",
            "Send a new reading under a new id, with supersedes where it replaces that one.",
            field="id",
            value=record,
        )


class ChangedMeanwhileError(BadInputError):
    """What somebody acted on is no longer so; `now` is what it is."""

    def __init__(self, what: str, now: object = None) -> None:
        super().__init__(
            f"{what} was changed since.", "Look at it as it is now, then decide.", value=what
        )
        self.now = now


class FaultLocationError(BadInputError):
    """A fault can't be placed from what was measured or is recorded; says what would settle it."""
