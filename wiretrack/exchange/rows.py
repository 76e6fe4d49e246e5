# SPDX-License-Identifier: MIT
"""One row of a table, handed over alone, held to the same schema as in a site file."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.exchange.schema import row_schema
from wiretrack.exchange.shape import sentences

if TYPE_CHECKING:
    from jsonschema.protocols import Validator


def row_faults(table: str, row: object) -> dict[str, str]:
    """Return what is wrong with the shape of a row, a sentence for each field at fault.

    >>> row_faults("readings", {"kind": "loop", "value": "1 ohm"})
    {'subject': 'It is missing. A reading needs it.'}

    What is wrong with the row as a whole is under an empty name.
    """
    faults: dict[str, str] = {}
    for error in _validator(table).iter_errors(row):  # type: ignore[arg-type]
        for path, message in sentences(error, {}):
            faults.setdefault(str(path[0]) if path else "", message)
    return faults


@cache
def _validator(table: str) -> Validator:
    from jsonschema import Draft202012Validator

    validator: Any = Draft202012Validator(row_schema(table))
    return validator  # type: ignore[no-any-return]
