# SPDX-License-Identifier: MIT
"""A site file in JSON (RFC 8259) to a raw document; what JSON forbids is refused with its place."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from wiretrack.encoding import meaning, position
from wiretrack.exchange import raw
from wiretrack.exchange.places import Faults, JsonPlaces
from wiretrack.exchange.raw import DoubledKeys, NotANumber, RawSite, fatal, read_text
from wiretrack.exchange.texts import has_forbidden, shown

if TYPE_CHECKING:
    from pathlib import Path

_MAX_DIGITS = 40
# Escapes that may stand for a character that no text may hold; tabs and returns between tokens.
_ESCAPES = re.compile(r"\\(?:[bfnrt]|u(?:00[01789]|20[26]|d[89a-f]))", re.IGNORECASE)


def read_json(file: Path) -> RawSite:
    """Return the document in a JSON file.

    Raises
    ------
    SiteFileError
        If the file can't be read, isn't JSON, or isn't an object.
    """
    text = read_text(file)
    if text.count("[") + text.count("{") > raw.MAX_ITEMS:
        message = f"The file holds more than {raw.MAX_ITEMS} lists and objects."
        raise fatal(file, "", f"{message} Load the site in smaller parts.")
    parser = Parser()
    try:
        data = parser.parse(text)
    except json.JSONDecodeError as error:
        raise fatal(file, position(error), meaning(error)) from error
    except RecursionError as error:
        message = "The file nests lists or objects too deeply. A site file has few levels."
        raise fatal(file, "", message) from error
    if not isinstance(data, dict):
        wanted = 'A site file is an object that begins with {"format": "wiretrack-site/1"'
        raise fatal(file, "", f"The file holds {shown(data)}. {wanted}.")
    suspect = parser.suspect or bool(_ESCAPES.search(text))
    suspect = suspect or has_forbidden(text, but="\t\r\n")
    return RawSite(data, Faults(JsonPlaces()), suspect)


class Parser:
    """Parses JSON; `suspect` says whether something in it needs a closer look."""

    def __init__(self) -> None:
        self.suspect = False

    def parse(self, text: str) -> Any:
        """Return the value in `text`, with doubled keys and impossible numbers marked."""
        return json.loads(
            text,
            object_pairs_hook=self._object,
            parse_constant=self._impossible,
            parse_float=self._float,
            parse_int=self._int,
        )

    def _object(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        plain = dict(pairs)
        if len(plain) == len(pairs):
            return plain
        self.suspect = True
        marked = DoubledKeys(plain)
        counts = Counter(key for key, _ in pairs)
        marked.doubled = tuple(key for key, count in counts.items() if count > 1)
        return marked

    def _impossible(self, text: str) -> NotANumber:
        self.suspect = True
        return NotANumber(text)

    def _float(self, text: str) -> float | NotANumber:
        number = float(text)
        return number if math.isfinite(number) else self._impossible(text)

    def _int(self, text: str) -> int | NotANumber:
        return int(text) if len(text) <= _MAX_DIGITS else self._impossible(text)
