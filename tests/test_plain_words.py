# SPDX-License-Identifier: MIT
"""What people read is plain: no word that has a plainer one, no sentence that needs a second look.

It looks at each string of the program but SQL, at the pages, the binder, the scripts and the
manual. Docstrings, keys and patterns are for others.
"""

from __future__ import annotations

import ast
import re
from functools import cache
from typing import TYPE_CHECKING

import pytest

from tests.code import PACKAGE as ROOT
from tests.code import nodes, text_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

# Each word to avoid, by the plain one.
AVOID = {
    "again": r"\banew\b",
    "in use": r"\bin service\b",
    "pulled out": r"\bdrawn out\b",
    "test due": r"\b(tests?|readings) (still )?owed\b|\bowed again\b",
    "replaces, replaced by": r"\bis in the place of\b|\bIn its place:",
    "required": r"\b(is|are|code) demand(s|ed)\b",
    "in the record": r"\bby the record\b",
    "during, since": r"\bin (its|the) midst\b|\bmeanwhile\b",
    "about": r"\b(good to )?some \d",
    "estimate": r"\breckon",
    "save": r"\bstore it all the same\b|\bthrow it away\b",
    "USB stick": r"\bfrom a stick\b",
    "likely cause": r"\bsuspects? (first|agrees)\b",
    "say what": r"\bisn't said\b",
    "is refused": r"'? (it|field|note|content) can't be taken\b|' can't be taken\b",
    "so that": r"\bso as to\b",
}
MOST_WORDS = 25  # of a sentence on a terminal or a page; the manual has a little more
MOST_IN_MANUAL = 32
SQL = re.compile(r"\b(SELECT|INSERT|UPDATE|CREATE|JOIN|WHERE)\b|@page")  # and style sheets
MARKS = re.compile(r"<[^>]*>|\{[{%].*?[%}]\}|`[^`]*`", re.S)


def strings(file: Path) -> Iterator[str]:
    """The strings of a module that may be shown, its blanks as ``{}``."""
    found = nodes(text_of(file))
    held = {id(node.value) for node in found if isinstance(node, ast.Expr)}
    held |= {id(part) for node in found if isinstance(node, ast.JoinedStr)
             for part in node.values}  # fmt: skip
    for node in found:
        if isinstance(node, ast.JoinedStr):
            parts = (str(p.value) if isinstance(p, ast.Constant) else "{}" for p in node.values)
            text = "".join(parts)
        elif isinstance(node, ast.Constant) and id(node) not in held:
            text = str(node.value)
        else:
            continue
        if " " in text and not SQL.search(text):
            yield text


def paragraphs(text: str) -> list[str]:
    """The paragraphs and list items of a topic, without its blocks, tables and headings."""
    plain = re.sub(r"^```.*?^```$", "", text, flags=re.M | re.S)
    parts = re.split(r"\n\n|\n(?=- |\d+\. )", plain)
    return [" ".join(p.split()) for p in parts if not p.lstrip().startswith(("#", "|", "!["))]


@cache
def shown(file: Path) -> list[str]:
    if file.suffix == ".py":
        return [*strings(file)]
    text = re.sub(r"^\s*//.*$", "", text_of(file), flags=re.M)
    return paragraphs(text) if file.suffix == ".md" else MARKS.sub(" ", text).splitlines()


def sentences(text: str) -> list[str]:
    return re.split(r"(?<=[.?!:;])\s", MARKS.sub("x", text))


FILES = {
    suffix: [file for file in sorted(ROOT.rglob(f"*{suffix}")) if "_shipped" not in file.parts]
    for suffix in (".py", ".html", ".js", ".txt", ".md")
}


@pytest.mark.parametrize("suffix", FILES)
def test_no_word_has_a_plainer_one(suffix: str) -> None:
    found = [
        f"{file.relative_to(ROOT)}: {text.strip()[:100]!r}: write {plain}"
        for file in FILES[suffix] for text in shown(file)
        for plain, avoided in AVOID.items() if re.search(avoided, text, re.I)
    ]  # fmt: skip
    assert found == []


@pytest.mark.parametrize("suffix", FILES)
def test_no_sentence_is_too_long(suffix: str) -> None:
    most = MOST_IN_MANUAL if suffix == ".md" else MOST_WORDS
    found = [
        f"{file.relative_to(ROOT)}: {sentence}"
        for file in FILES[suffix]
        if file.stem != "22-sources"  # most of it repeats the headings of tables
        for text in shown(file) for sentence in sentences(text)
        if len(sentence.split()) > most
    ]  # fmt: skip
    assert found == []


@pytest.mark.parametrize(
    ("plain", "text"),
    [("again", "Type it anew."), ("in use", "{} is in service."), ("test due", "3 tests owed"),
     ("about", "about, good to some 15 %"), ("say what", "Where it goes isn't said."),
     ("is refused", "The note 'x' can't be taken: it is empty.")],
)  # fmt: skip
def test_each_of_them_would_be_found(plain: str, text: str) -> None:
    assert re.search(AVOID[plain], text, re.I)


def test_a_long_sentence_would_be_found_and_code_in_it_counts_once() -> None:
    assert len(sentences("word " * 26)[0].split()) == 26
    assert len(sentences("Type `wiretrack show TAG --all` now.")[0].split()) == 3
