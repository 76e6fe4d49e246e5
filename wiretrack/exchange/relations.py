# SPDX-License-Identifier: MIT
"""What must agree within a record, and between it and others: the sense of a site file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.exchange.places import shown
from wiretrack.model.routes import chains, joins
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.exchange.decode import Draft, Drafts
    from wiretrack.exchange.known import Known
    from wiretrack.exchange.places import Faults, Path
    from wiretrack.exchange.raw import RawSite
    from wiretrack.model.routes import Ends

_MAX_TERMINAL = 40


def check_relations(drafts: Drafts, known: Known, raw: RawSite) -> None:
    """Add a fault for each record that contradicts itself, and each wrong superseding."""
    faults = raw.faults
    _check_site(drafts["site"][0], faults)
    for number, draft in enumerate(drafts["devices"]):
        _check_poles(number, draft, faults)
    for number, draft in enumerate(drafts["conductors"]):
        for side in ("from", "to"):
            if draft.get(f"{side}.state") == "landed" and f"{side}.terminal" not in draft:
                message = "The end is landed, but its terminal is missing. Name the terminal."
                faults.add(("conductors", number, side, "state"), message)
    _check_cables(drafts["conductors"], known, faults)
    _check_readings(drafts["readings"], known, faults, once="changes" not in drafts)
    _check_placed_labels(drafts, known, faults)
    for table in ("ringouts", "fault_searches"):
        ids: set[str] = set()
        for number, draft in enumerate(drafts.get(table, ())):
            _check_answers(table, number, draft, ids, faults)


def _check_placed_labels(drafts: Drafts, known: Known, faults: Faults) -> None:
    """Check that each is a printed label, one written by hand, or takes back one that is no such.

    What it names must be of the same end.
    """
    earlier: dict[str, Draft] = {}
    printed = {row["id"]: row for row in drafts.get("label_prints", ()) if "id" in row}
    for number, draft in enumerate(drafts.get("placed_labels", ())):
        path = ("placed_labels", number)
        if len({"print", "legend", "takes_back"} & draft.keys()) != 1:
            faults.add(path, "Name the print, the legend written by hand, or what it takes back.")
        for key, rows, noun in (
            ("print", printed, "label_print"),
            ("takes_back", earlier, "placed_label"),
        ):
            named = draft.get(key)
            row = rows.get(str(named))
            wrong = row is None and not known.has(f"{noun} id", str(named))
            wrong |= row is not None and any(row.get(k) != draft.get(k) for k in ("tag", "end"))
            if named is not None and (wrong or "takes_back" in (row or ())):
                words = f"No {noun.replace('_', ' ')} of that end is called {shown(str(named))}."
                faults.add((*path, key), f"{words} Name one that comes before it.")
        earlier[str(draft.get("id"))] = draft


def _check_site(draft: Draft, faults: Faults) -> None:
    if "edition" in draft and draft.get("rules") == "IEC":
        message = "An edition goes with the rule set NEC. Leave it out, or name NEC."
        faults.add(("site", "edition"), message)


def _check_poles(number: int, draft: Draft, faults: Faults) -> None:
    for place, (one, other) in enumerate(draft.get("poles", ())):
        path = ("devices", number, "poles", place)
        if one == other:
            faults.add(path, f"The pole joins {shown(one)} to itself. Name two terminals.")
        for name in dict.fromkeys((one, other)):
            if len(name) > _MAX_TERMINAL:
                message = f"The terminal's full name {shown(name)} has {len(name)} characters"
                faults.add(path, f"{message}. At most {_MAX_TERMINAL} are allowed.")


def _check_cables(conductors: list[Draft], known: Known, faults: Faults) -> None:
    """Check that cores in use of one cable are different ones, and lie in one pull."""
    cores: dict[tuple[str, str], str] = {}
    pulls: dict[str, tuple[str, str]] = {}
    for path, who, (cable, core, pull) in _cores(conductors, known, faults):
        if path and core is not None and (cable, core) in cores:
            message = f"{cores[cable, core]} is core {shown(core)} of cable {shown(cable)} too."
            faults.add((*path, "core"), f"{message} Give each core its own.")
        other, lies_in = pulls.get(cable, ("", pull))
        if path and pull not in (None, lies_in):
            message = f"{other}, of the same cable, lies in pull {shown(str(lies_in))}."
            faults.add((*path, "pull"), f"{message} All cores of a cable lie in one.")
        if core is not None:
            cores.setdefault((cable, core), who)
        if pull is not None:
            pulls.setdefault(cable, (who, pull))


def _cores(
    conductors: list[Draft], known: Known, faults: Faults
) -> Iterator[tuple[Path, str, tuple[str, str | None, str | None]]]:
    """Yield path, name, and cable, core and pull of all cores in use; those stored have no path."""
    seen = set()
    for number, draft in enumerate(conductors):
        cable = draft.get("cable")
        if cable is None or "retired_at" in draft:
            continue
        if cable not in seen:
            seen.add(cable)
            for tag, core, pull in known.cores(cable):
                yield (), f"{format_tag(tag)} in the registry", (cable, core, pull)
        path = ("conductors", number)
        yield path, faults.place(path), (cable, draft.get("core"), draft.get("pull"))


def _check_readings(readings: list[Draft], known: Known, faults: Faults, *, once: bool) -> None:
    """Check what readings replace; a dump may hold two corrections, of two copies (not `once`)."""
    older_of = {draft["id"]: draft.get("supersedes") for draft in readings if "id" in draft}
    circular = in_circles(older_of)
    replaced: dict[str, int] = {}
    for number, draft in enumerate(readings):
        if "subject" in draft and draft["subject"] == draft.get("against"):
            message = "The conductor is read against itself. Name the other conductor."
            faults.add(("readings", number, "against"), message)
        older = draft.get("supersedes")
        if older is None:
            continue
        path = ("readings", number, "supersedes")
        if draft.get("id") in circular:
            faults.add(path, "The reading supersedes itself. Name an earlier reading.")
        elif older not in older_of and not known.has("reading id", older):
            message = f"No reading in the file or the registry is called {older}."
            faults.add(path, f"{message} Name the reading that this one replaces, or none.")
        if once and older in replaced:
            other = faults.place(("readings", replaced[older]))
            message = f"The same reading is superseded by {other} too. Supersede that one instead."
            faults.add(path, message)
        replaced.setdefault(older, number)


def in_circles(older_of: dict[str, str | None]) -> set[str]:
    """Return what supersedes or follows itself, at once or by way of others."""
    circular: set[str] = set()
    done: set[str] = set()
    for start in older_of:
        way: dict[str, int] = {}
        here: str | None = start
        while here is not None and here in older_of and here not in done and here not in way:
            way[here] = len(way)
            here = older_of[here]
        if here in way:
            circular |= {name for name, place in way.items() if place >= way[here]}
        done.update(way)  # `|=` would make a new set each time
    return circular


def _check_answers(table: str, number: int, ringout: Draft, ids: set[str], faults: Faults) -> None:
    """Check one ring-out or fault search; `ids` are those of all answers so far."""
    answers = ringout.get("answers", ())
    if any("follows" in answer for answer in answers):
        _check_ways(table, number, answers, ids, faults)
        return
    current: set[str] = set()
    steps: set[int] = set()
    for place, answer in enumerate(answers):
        path = (table, number, "answers", place)
        if not {"id", "seq"} <= answer.keys():
            continue
        if answer["id"] in ids or answer["seq"] in steps:
            faults.add(path, _USED_TWICE)
        older = answer.get("supersedes")
        if older is not None and older not in current:
            faults.add((*path, "supersedes"), _NOT_CURRENT)
        current.discard(older)
        current.add(answer["id"])
        ids.add(answer["id"])
        steps.add(answer["seq"])


_USED_TWICE = "An earlier answer has the same identifier or number. Give each its own."
_NOT_CURRENT = "It supersedes no earlier answer that still stands. Name one of those."


def _check_ways(
    table: str, number: int, answers: list[Draft], ids: set[str], faults: Faults
) -> None:
    """Check answers that went on apart in two copies: each but the first says what it follows."""
    ways: dict[str | None, tuple[int, frozenset[str]]] = {None: (0, frozenset())}
    for place, answer in enumerate(answers):
        path = (table, number, "answers", place)
        if not {"id", "seq"} <= answer.keys():
            continue
        follows, older = answer.get("follows"), answer.get("supersedes")
        if follows not in ways or ways[follows][0] + 1 != answer["seq"]:
            message = "It doesn't follow the earlier answer with the number before. Name that one."
            faults.add((*path, "follows"), message)
        if answer["id"] in ids:
            faults.add(path, _USED_TWICE)
        current = ways.get(follows, ways[None])[1]
        if older is not None and older not in current:
            faults.add((*path, "supersedes"), _NOT_CURRENT)
        ways[answer["id"]] = (answer["seq"], current - {older} | {answer["id"]})
        ids.add(answer["id"])


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


class RouteCheck:
    """The raceways and pulls of a file, over those of the registry."""

    def __init__(self, drafts: Drafts, known: Known, faults: Faults) -> None:
        self.drafts, self.known, self.faults = drafts, known, faults
        self._ends: dict[str, Ends | None] = {}
        self._chains: dict[str, list[list[str]]] = {}
        for draft in drafts["raceways"]:
            if {"code", "from", "to"} <= draft.keys():
                self._ends.setdefault(draft["code"], (draft["from"], draft["to"]))
            elif "code" in draft:
                self._ends.setdefault(draft["code"], None)

    def check(self) -> None:
        """Add a fault for each raceway, pull and conductor that leads nowhere."""
        for number, draft in enumerate(self.drafts["raceways"]):
            if "from" in draft and draft["from"] == draft.get("to"):
                message = f"The raceway leads from {shown(draft['from'])} back to it."
                self.faults.add(("raceways", number, "to"), f"{message} Name two enclosures.")
        for number, draft in enumerate(self.drafts["pulls"]):
            self._check_pull(number, draft)
        for number, draft in enumerate(self.drafts["conductors"]):
            if {"pull", "from.enclosure", "to.enclosure"} <= draft.keys():
                self._check_conductor(number, draft)

    def _ends_of(self, code: str) -> Ends | None:
        if code not in self._ends:
            self._ends[code] = self.known.raceway_ends(code)
        return self._ends[code]

    def _check_pull(self, number: int, draft: Draft) -> None:
        path = draft.get("path", ())
        ends = [self._ends_of(code) for code in path]
        known = [pair for pair in ends if pair is not None]
        found = chains(known) if len(known) == len(path) else []
        if "code" in draft:
            self._chains.setdefault(draft["code"], found)
        if len(known) == len(path) and path and not found:
            self.faults.add(("pulls", number, "path"), _broken(path, known))
        for place, end in enumerate(draft["far_ends"]):
            box = end.get("enclosure")
            if found and box is not None and box not in found[0]:
                message = f"{shown(box)} is not on the way of the pull: {_way(found[0])}."
                where = ("pulls", number, "far_ends", place, "enclosure")
                self.faults.add(where, f"{message} Name one of these.")

    def _chains_of(self, pull: str) -> list[list[str]]:
        if pull not in self._chains:
            ends = [self._ends_of(code) for code in self.known.pull_path(pull) or ()]
            known = [pair for pair in ends if pair is not None]
            self._chains[pull] = chains(known) if len(known) == len(ends) else []
        return self._chains[pull]

    def _check_conductor(self, number: int, draft: Draft) -> None:
        found = self._chains_of(draft["pull"])
        one, other = draft["from.enclosure"], draft["to.enclosure"]
        if not found or any(joins(chain, one, other) for chain in found):
            return
        message = (
            f"The ends, in {shown(one)} and {shown(other)}, are not joined by the path of pull"
            f" {shown(draft['pull'])}: {_way(found[0])}. Correct an end, the pull or its path."
        )
        self.faults.add(("conductors", number, "pull"), message)


def _way(chain: Sequence[str]) -> str:
    """Return the enclosures of a chain for people; the middle of a long one is left out."""
    shorter = [*chain[:6], "…", *chain[-3:]] if len(chain) > 10 else chain
    return " - ".join(shorter)


def _broken(path: Sequence[str], ends: Sequence[Ends]) -> str:
    """Return the sentence on the first raceway that doesn't go on from those before it."""
    at = next(at for at in range(2, len(ends) + 1) if not chains(ends[:at]))
    before, after = at - 2, at - 1
    return (
        f"The raceways {shown(path[before])} ({_way(ends[before])}) and {shown(path[after])}"
        f" ({_way(ends[after])}) don't follow on each other. List them in the order of the pull."
    )
