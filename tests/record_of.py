# SPDX-License-Identifier: MIT
"""A record as `show --json` writes it, a report's page, ends to label, documents loaded."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.encoding import document
from wiretrack.labels.subject import CONDUCTOR
from wiretrack.store.changing import Change, apply
from wiretrack.store.history import SourceFile
from wiretrack.tasks.find.showing import show
from wiretrack.tasks.label.ends import conductors_asked
from wiretrack.tasks.report.report import Reporter

if TYPE_CHECKING:
    from wiretrack.labels.subject import LabelSubject
    from wiretrack.model.source import SiteDocument
    from wiretrack.store.store import Registry


def record_of(registry: Registry, what: str) -> dict[str, Any]:
    found: dict[str, Any] = document(show(registry, what))
    return found


def report_page(registry: Registry, what: str | None = None) -> str:
    with registry.unchanging():
        return Reporter(registry, whole=what is None).page(what)


def add_document(registry: Registry, found: SiteDocument, *, who: str | None = None) -> None:
    """Add all that a document holds, as a load does."""
    apply(registry, Change(added=found, file=SourceFile("")), who=who)


def label_subjects(registry: Registry, what: str | None = None) -> list[LabelSubject]:
    """Return the ends that a word names, as what labels are about; all of the site without it."""
    return CONDUCTOR.subjects(conductors_asked(registry, what))
