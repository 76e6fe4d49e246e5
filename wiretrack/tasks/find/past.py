# SPDX-License-Identifier: MIT
"""The record as it stood at the end of a day: by what had been entered by then."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack import days
from wiretrack.errors import BadInputError, Hint, NotFoundError
from wiretrack.store.history import ids_called
from wiretrack.store.past import as_entered
from wiretrack.tasks.find import showing

if TYPE_CHECKING:
    from wiretrack.store.store import Registry
    from wiretrack.tasks.find.records import Record


def as_of(registry: Registry, text: str) -> Registry:
    """Return the registry, to be read, as it stood at the end of a day that somebody typed."""
    day = days.typed_day(text)
    if day > days.today():
        raise BadInputError(f"{day} lies in the future: its record isn't written yet.", value=text)
    found = as_entered(registry, lambda at: days.day(at) <= day.isoformat())
    if found is None:
        raise BadInputError(f"By the end of {day} this registry had not begun.", value=text)
    return found


def show_as_of(registry: Registry, past: Registry, what: str, text: str) -> Record:
    """Return the record of what a word named at the end of a day; `past` is that of `as_of`.

    `NotFoundError` or `TagError` if nothing is or was called so; `BadInputError` if it came later,
    or was called otherwise then.
    """
    try:
        return showing.show(past, what)
    except NotFoundError as error:
        ids_called(registry, what)  # what nothing is called at all is an error of its own
        near = f" Close to it: {', '.join(error.near)}." if error.near else ""
        day, hint = days.typed_day(text), Hint(job="history-of", about=what)
        why = f"Nothing was called '{what}' by the end of {day}.{near}"
        raise BadInputError(why, hint, value=what) from None
