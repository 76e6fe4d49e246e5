# SPDX-License-Identifier: MIT
"""The tables that only a dump has: their rows are kept as they are, but their fields are known."""

from __future__ import annotations

from dataclasses import dataclass

from wiretrack.model import kinds as k
from wiretrack.model import words
from wiretrack.model.entity import Attachment, Note
from wiretrack.model.fields import Fact, Kind, facts


@dataclass(frozen=True)
class Rows:
    """The rows of one table: what one is called in the schema and to people, and its fields."""

    name: str
    noun: str
    meaning: str
    facts: tuple[Fact, ...]


def _rows(name: str, noun: str, meaning: str, *known: Fact) -> Rows:
    return Rows(name, noun, meaning, known)


def _need(key: str, kind: Kind, meaning: str = "", refers: str = "") -> Fact:
    return Fact(key, kind, meaning, refers, needed=True)


def _may(key: str, kind: Kind, meaning: str = "") -> Fact:
    return Fact(key, kind, meaning)


def _free(title: str, *types: str) -> Kind:
    """Return a kind of any form."""
    return Kind(title, {"type": types[0] if len(types) == 1 else [*types]})


_ID, _AT = _need("id", k.ID), _need("at", k.TIME)
_SIDE = _need("end", k.choice("a side", words.SIDES))
_NUMBER = {"type": "integer", "minimum": 0}
ANSWER = _rows(
    "ringout_answer", "answer", "A step and the answer to it.",
    _ID,
    _need("seq", Kind("a number in the order of the steps", _NUMBER | {"maximum": 10**9})),
    _need("step", _free("a step", "object")),
    _need("answer", _free("an answer", "object")),
    _AT,
    _may("supersedes", k.ID, "The answer that this one replaces."),
    _may("follows", k.ID,
         "The answer before this one, where two copies of a registry went on apart."),
)  # fmt: skip
_WORK = (
    _need("settings", _free("settings", "object")),
    _AT,
    _may("answers", k.listed("a list of answers", ANSWER)),
    _may("result", _free("a result", "object", "null")),
)
REST = {
    "ringouts": _rows(
        "ringout", "ring-out", "The answers given while a pull was rung out.",
        _ID,
        _need("pull", k.CODE, refers="pulls"),
        _need("near", k.CODE, refers="enclosures"),
        _need("far", k.CODE, refers="enclosures"),
        *_WORK,
    ),
    "fault_searches": _rows(
        "fault_search", "fault search", "The answers given while a fault was searched for.",
        _ID,
        _need("circuit", k.CODE, refers="circuits"),
        _need("symptom", k.choice("a symptom", words.SYMPTOMS)),
        *_WORK,
    ),
    "label_prints": _rows(
        "label_print", "label print", "One label that was printed.",
        _ID, _need("tag", k.TAG), _SIDE, _need("form", k.NAME), _need("stock", k.NAME), _AT,
        _need("legend", _free("a legend", "object", "array", "string", "null"),
              "What the label says."),
        _may("file", k.NOTE),
    ),
    "placed_labels": _rows(
        "placed_label", "placed label",
        "Somebody said that a label is on its wire, or took that back.",
        _ID, _need("tag", k.TAG), _SIDE, _AT, _may("by", k.NAME),
        _may("print", k.ID, "The label print that is on the wire."),
        _may("legend", _free("a legend", "object", "null"), "What a label written by hand says."),
        _may("takes_back", k.ID, "The placed label that is on the wire no longer."),
    ),
    "notes": _rows(
        "remark", "note", "A remark on a record, or that one is taken back.", *facts(Note)
    ),
    "attachments": _rows(
        "attachment", "attachment", "A picture or document that was attached to a record.",
        *facts(Attachment),
        _may("content", k.CONTENT, "Of the first that has this SHA-256, where it's not known."),
    ),
    "same_records": _rows(
        "same_record", "record of the same thing",
        "Somebody said that two records are of one thing, or took that back.",
        _ID, _need("what", k.choice("what is the same", words.SUBJECTS)), _may("record", k.ID),
        _may("other", k.ID, "An id of the same thing; the smaller one stands for both."),
        _may("tag", k.NAME), _may("other_tag", k.NAME, "A tag that leads to it too."),
        _may("takes_back", k.ID, "What was said and is no longer true."), _AT, _may("by", k.NAME),
    ),
    "changes": _rows(
        "change", "change", "One entry of the change history.",
        _ID,
        _may("seq", Kind("a number in the order of the changes", _NUMBER)),
        _may("change", k.NAME, "The change that it is part of."),
        _may("more", _free("more", "object", "null"), "Why it was made, and what it undoes."),
        _AT, _may("by", k.NAME), _need("what", k.CODE), _need("record", k.NAME),
        _need("action", k.choice("an action", words.ACTIONS)),
        _may("old", _free("the old values", "object", "null")),
        _may("new", _free("the new values", "object", "null")),
    ),
}  # fmt: skip
REST_NAMES = tuple(REST)
