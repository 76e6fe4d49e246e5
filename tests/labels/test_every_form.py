# SPDX-License-Identifier: MIT
"""Every form of label is asked every question that a form answers."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wiretrack.labels.forms import BY_NAME, FORMS, Case, fit, form_of
from wiretrack.labels.forms import __file__ as forms_file
from wiretrack.labels.forms.card import BoxCard, CardRow
from wiretrack.labels.forms.marking import Marking
from wiretrack.labels.forms.plate import Plate
from wiretrack.labels.forms.strip import TerminalStrip
from wiretrack.labels.stocks import shipped_stocks
from wiretrack.labels.subject import LabelSubject, PullNumber

if TYPE_CHECKING:
    from wiretrack.labels.forms import Form
    from wiretrack.labels.subject import Subject

SCHEMA = Path(__file__).parents[2] / "schemas" / "stocks.schema.json"
SUBJECTS: dict[type, Subject] = {
    LabelSubject: LabelSubject(tag="PMP001G", payload="WT:PMP001G", outer_diameter_mm=4.5),
    PullNumber: PullNumber(number="7", outer_diameter_mm=4.5),
    Plate: Plate(code="MDB"),
    TerminalStrip: TerminalStrip(enclosure="MDB", terminals=("1", "2"), pitch_mm=6.0),
    BoxCard: BoxCard(code="MDB", rows=(CardRow("Q1:1", "PMP001G", "PUMP", "PH1"),)),
    Marking: Marking(
        wording="SOLAR PV DC CIRCUIT", letter_mm=9.5, letters="white", background="red", source="x"
    ),
}


def carried(form: Form) -> list[type]:
    found = [kind for kind in SUBJECTS if issubclass(kind, form.carries)]
    assert found
    return found


ROWS = pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)


def test_a_form_is_a_file_of_its_name_and_each_is_listed() -> None:
    shared = {"__init__", "base"}
    files = {file.stem for file in Path(forms_file).parent.glob("*.py")} - shared
    assert files == set(BY_NAME) == {form.name for form in FORMS}
    assert len(BY_NAME) == len(FORMS)


def test_the_stock_file_allows_the_forms_that_there_are() -> None:
    allowed = json.loads(SCHEMA.read_text("utf-8"))["$defs"]["stock"]["properties"]["form"]["enum"]
    assert set(allowed) == {form.stock_form for form in FORMS}


@ROWS
def test_a_form_lays_out_or_refuses_in_words_each_subject_that_it_carries(form: Form) -> None:
    stocks = [stock for stock in shipped_stocks().values() if stock.form == form.stock_form]
    assert stocks
    for kind in carried(form):
        for stock in stocks:
            found = form.fit(Case(SUBJECTS[kind], stock, "full", text_only=False))
            assert found.form in BY_NAME
            assert found.plan is not None or (found.why_not and found.hint)


@ROWS
def test_a_form_cuts_a_subject_in_labels_of_the_same_kind(form: Form) -> None:
    for stock in shipped_stocks().values():
        for kind in carried(form):
            parts = form.parts(SUBJECTS[kind], stock)
            assert parts
            assert all(isinstance(part, kind) for part in parts)


@ROWS
def test_a_form_finds_no_fault_with_a_shipped_stock_and_names_its_own_fields(form: Form) -> None:
    for stock in shipped_stocks().values():
        if stock.form == form.stock_form:
            assert list(form.stock_faults(stock)) == []
        for field, what in form.stock_fields.items():
            assert hasattr(stock, field)
            assert what


def test_each_subject_finds_a_form_on_each_stock() -> None:
    for subject in SUBJECTS.values():
        for stock in shipped_stocks().values():
            form = form_of(subject, stock)
            assert isinstance(subject, form.carries)
            assert fit(subject, stock).form in BY_NAME
