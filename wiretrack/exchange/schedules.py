# SPDX-License-Identifier: MIT
"""The row of a panel schedule: what it says of a circuit, its breaker, its panel and its wire.

What a row says stays text here; the fields' own readers judge it afterwards.
"""

from __future__ import annotations

import re

Texts = dict[tuple[str, str], str]  # what the cells of a row say, by table and column

_AMPS, _POLES = r"(?P<amps>\d{1,4}(?:[.,]\d)?)\s*(?:a|amps?)?", r"(?P<poles>[1-4])\s*(?:p|poles?)?"
_BETWEEN = r"\s*[/,x-]?\s*"
_BREAKERS = [
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"{_AMPS}",
        rf"(?P<poles>[1-4])\s*(?:p|poles?){_BETWEEN}{_AMPS}",
        rf"{_AMPS}(?:\s*[/,x-]\s*|\s+|(?<=[aA]))(?P<poles>[1-4])",
        rf"{_AMPS}{_BETWEEN}(?P<poles>[1-4])\s*(?:p|poles?)",
    )
]
_WIRE = re.compile(
    r"(?P<gauge>#)?\s*(?P<size>\d+(?:[.,]\d+)?(?:/0)?)\s*(?P<unit>awg|kcmil|mcm|mm2|mm²)?"
    r"(?:[\s,]+(?P<rest>.+))?",
    re.IGNORECASE,
)
_METALS = {"cu": "Cu", "copper": "Cu", "al": "Al", "aluminum": "Al", "aluminium": "Al"}
_NO_LOAD = re.compile(r"\W*(spare|space|blank|unused|open|empty|reserve|frei)?\W*", re.IGNORECASE)
# The cells that one word of a schedule fills.
FILLS = {
    "number": (("circuits", "code"), ("devices", "code"), ("conductors", "circuit")),
    "panel": (
        ("enclosures", "code"), ("enclosures", "kind"),
        ("devices", "enclosure"), ("conductors", "from.enclosure"),
    ),
    "breaker": (("devices", "rating"), ("devices", "poles"), ("devices", "kind"),
                ("circuits", "overcurrent")),
    "wire": (("conductors", "size"), ("conductors", "metal"), ("conductors", "insulation")),
}  # fmt: skip


def breaker(text: str) -> tuple[str, str]:
    """Return rating and number of poles, that one empty where it isn't said.

    What isn't read stays as it is, so that the field says what it takes.

    >>> breaker("20A 2P"), breaker("20/2"), breaker("2P-20A"), breaker("15"), breaker("20 A")
    (('20 A', '2'), ('20 A', '2'), ('20 A', '2'), ('15 A', ''), ('20 A', ''))
    """
    for pattern in _BREAKERS:
        found = pattern.fullmatch(text.strip())
        if found:
            poles = found.groupdict().get("poles") or ""
            return f"{found['amps'].replace(',', '.')} A", poles
    return text, ""


def wire(text: str) -> dict[str, str]:
    """Return size, metal and insulation, as far as a cell says them.

    >>> wire("#12 CU THHN")
    {'size': '12 AWG', 'metal': 'Cu', 'insulation': 'THHN'}
    >>> wire("6 mm2 H07V-K"), wire("12")
    ({'size': '6 mm2', 'insulation': 'H07V-K'}, {'size': '12'})
    """
    found = _WIRE.fullmatch(text.strip())
    if found is None:
        return {"size": text}
    unit = (found["unit"] or ("AWG" if found["gauge"] or "/" in found["size"] else "")).lower()
    unit = {"awg": "AWG", "mcm": "kcmil", "mm²": "mm2"}.get(unit, unit)
    read = {"size": f"{found['size'].replace(',', '.')} {unit}".strip()}
    others = []
    for word in re.split(r"[\s,]+", found["rest"] or ""):
        if word.lower() in _METALS:
            read["metal"] = _METALS[word.lower()]
        elif word:
            others.append(word)
    return read | ({"insulation": " ".join(others)} if others else {})


def expanded(texts: Texts, box: str) -> Texts:
    """Return what the cells of a row say of each table; `box` is the panel where no cell names it.

    A row without a load is no circuit, and without a breaker nothing at all. Where no column has
    its number in the panel, the breaker goes by the circuit's code.
    """
    words = {key: text.strip() for (table, key), text in texts.items() if not table}
    found = {field: text for field, text in texts.items() if field[0]}
    panel = words.get("panel", box)
    number = re.sub(r"\s*[,/&+-]\s*|\s+", "-", words.get("number", ""))
    if "breaker" in words:
        rating, poles = breaker(words["breaker"])
        found["devices", "rating"] = found["circuits", "overcurrent"] = rating
        found["devices", "kind"] = "breaker"
        if poles:
            found["devices", "poles"] = poles
    if ("devices", "rating") in found:
        found.setdefault(("circuits", "overcurrent"), found["devices", "rating"])
    if "wire" in words:
        found |= {("conductors", key): text for key, text in wire(words["wire"]).items()}
    found = _without_empty(found)
    used = {table for table, _ in found}
    code = f"{panel}-{number}" if panel else number
    if number:
        names = {"circuits": ("code", code), "devices": ("code", number)}
        names["conductors"] = ("circuit", code)
        found |= {(table, name): text for table, (name, text) in names.items() if table in used}
    elif "devices" in used and ("circuits", "code") in found:
        found.setdefault(("devices", "code"), found["circuits", "code"])
    if panel and used & {"devices", "conductors"}:
        found |= {("enclosures", "code"): panel, ("enclosures", "kind"): "panelboard"}
        if "devices" in used:
            found["devices", "enclosure"] = panel
        if "conductors" in used:
            found.setdefault(("conductors", "from.enclosure"), panel)
    return found


def _without_empty(found: Texts) -> Texts:
    """Return what a row says without a circuit where nothing is on its breaker."""
    title = found.get(("circuits", "title"), "")
    is_named = not _NO_LOAD.fullmatch(title)
    has_breaker = any(table == "devices" for table, _ in found)
    if is_named or (not title and has_breaker):
        return found
    dropped = ("circuits", "conductors") if has_breaker else ("circuits", "conductors", "devices")
    return {field: text for field, text in found.items() if field[0] not in dropped}


def in_words(texts: Texts) -> str:
    """Return in a few words what a row becomes.

    >>> in_words({("circuits", "code"): "LP1-3", ("circuits", "title"): "pump",
    ...           ("devices", "enclosure"): "LP1", ("devices", "code"): "3",
    ...           ("devices", "rating"): "20 A", ("devices", "poles"): "2"})
    'circuit LP1-3 (pump), breaker LP1/3 (20 A, 2 poles)'
    """

    def of(table: str, *keys: str) -> str:
        return ", ".join(filter(None, (texts.get((table, key), "") for key in keys)))

    told = []
    if of("circuits", "code"):
        told.append(_with(f"circuit {of('circuits', 'code')}", of("circuits", "title")))
    if of("devices", "code"):
        poles = texts.get(("devices", "poles"), "")
        more = [of("devices", "rating"), f"{poles} pole{'s' * (poles != '1')}" if poles else ""]
        place = f"{of('devices', 'enclosure')}/{of('devices', 'code')}"
        told.append(_with(f"breaker {place}", ", ".join(filter(None, more))))
    if of("conductors", "size"):
        more = [of("conductors", "size", "metal", "insulation"), of("conductors", "to.enclosure")]
        told.append(_with(f"conductor {of('conductors', 'function')}", " to ".join(more)))
    return ", ".join(told) or "nothing: no load and no breaker"


def _with(name: str, more: str) -> str:
    return f"{name} ({more})" if more else name
