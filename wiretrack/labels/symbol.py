# SPDX-License-Identifier: MIT
"""QR symbols as rows of modules: which version and level a text needs, and the symbol itself.

Sizes, capacities and the quiet zone are those of ISO/IEC 18004 (reprint; original not seen).
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import TYPE_CHECKING, Literal, cast

from wiretrack.errors import BadInputError, OutOfRangeError
from wiretrack.late import dataclass
from wiretrack.model.tags import ALPHANUMERIC

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from qrcode.util import QRData

Level = Literal["L", "M", "Q", "H"]
LEVELS: tuple[Level, ...] = ("L", "M", "Q", "H")
QUIET_ZONE_MODULES = 4
MAX_VERSION = 10
_MODE_BITS = 4
_MODULES, _DIGITS = str.maketrans("01", "\0\1"), bytes.maketrans(b"\0\1", b"01")


@dataclass(frozen=True)
class Symbol:
    """A QR symbol without its quiet zone; a row is bytes, 1 for a dark module."""

    version: int
    level: Level
    rows: tuple[bytes, ...]

    @property
    def runs(self) -> Iterator[tuple[int, int, int]]:
        """Its runs of dark modules: column, row and length."""
        for y, row in enumerate(self.rows):
            for x, n in _runs(row):
                yield x, y, n

    def path(self, margin: int = 0) -> str:
        """Return its dark modules as the path of an SVG drawing, so many modules from its edges."""
        rows = enumerate(self.rows, margin)
        return "".join([f"M{x + margin} {y}h{n}v1h-{n}z" for y, row in rows for x, n in _runs(row)])


def _runs(row: bytes) -> list[tuple[int, int]]:
    """Return where each run of dark modules in a row begins, and its length."""
    found, end, find = [], 0, row.find
    while (start := find(1, end)) >= 0:
        end = find(0, start)
        end = len(row) if end < 0 else end
        found.append((start, end - start))
    return found


def side_modules(version: int) -> int:
    """Return how many modules a side has, quiet zone not counted (ISO/IEC 18004).

    >>> side_modules(1)
    21
    """
    return 17 + 4 * version


def side_with_quiet_zone(version: int) -> int:
    """Return how many modules a side has with its quiet zone (ISO/IEC 18004)."""
    return side_modules(version) + 2 * QUIET_ZONE_MODULES


def highest_level(payload: str, version: int) -> Level | None:
    """Return the strongest error correction with which `payload` fits in `version`, if any does."""
    needed = _bits_needed(payload, version)
    fitting = [level for level in LEVELS if needed <= _data_bits(version, level)]
    return fitting[-1] if fitting else None


def capacity(version: int, level: Level, *, alphanumeric: bool = True) -> int:
    """Return how many characters (or bytes) one symbol of that version and level holds."""
    free = _data_bits(version, level) - _MODE_BITS - _count_bits(version, alphanumeric)
    if not alphanumeric:
        return free // 8
    pairs, left = divmod(free, 11)
    return 2 * pairs + (left >= 6)


def make_symbol(payload: str, version: int, level: Level, mask: int | None = None) -> Symbol:
    """Return the symbol of `payload`; the mask is the one with the least penalty if not given.

    Raises `BadInputError` if the payload doesn't fit in that version and level.
    """
    if _bits_needed(payload, version) > _data_bits(version, level):
        holds = capacity(version, level, alphanumeric=_is_alphanumeric(payload))
        raise BadInputError(
            f"'{payload}' has {len(payload)} characters; a QR symbol of version {version} at "
            f"level {level} holds {holds}. Use a shorter address, or a higher version."
        )
    if mask is not None and not 0 <= mask <= 7:
        raise OutOfRangeError("QR mask", mask, "", "0 to 7")
    alike = _alike(version, level, _is_alphanumeric(payload), len(payload.encode()))
    plain, masks = alike.plain(payload), _masks(version, level)
    side = side_modules(version)
    if mask is None:
        mask = min(range(8), key=lambda n: _penalty(plain ^ masks[n][0], side))
    dots = f"{plain ^ masks[mask][1]:0{side * side}b}".translate(_MODULES).encode()
    return Symbol(version, level, tuple(dots[n : n + side] for n in range(0, len(dots), side)))


class _Alike:
    """The symbols of one size whose texts are in one mode and as long.

    Error correction is linear: where the bits of a text are those of others, added modulo 2, so are
    its modules. So after some fifty texts that differ in a tag there is nothing left to work out.
    """

    def __init__(self, version: int, level: Level) -> None:
        self._size = version, level
        self._known: dict[int, tuple[int, int]] = {}  # bits and modules, by the highest bit

    def plain(self, payload: str) -> int:
        """Return the modules of a text in a test, with mask 0."""
        left, modules = _bits(payload), 0
        while known := self._known.get(left.bit_length()):
            left, modules = left ^ known[0], modules ^ known[1]
        if left:
            made = _modules(payload, *self._size, 0, test=True)
            self._known[left.bit_length()] = left, made ^ modules
            return made
        return modules


@cache
def _alike(version: int, level: Level, alphanumeric: bool, length: int) -> _Alike:
    return _Alike(version, level)


def _bits(payload: str) -> int:
    """Return the bits that stand for a text in a symbol, after a first one that all texts share."""
    if not _is_alphanumeric(payload):
        return int.from_bytes(b"\1" + payload.encode())
    bits, values = 1, [*map(ALPHANUMERIC.index, payload)]
    for high, low in zip(values[::2], values[1::2], strict=False):
        bits = bits << 11 | 45 * high + low
    return bits << 6 | values[-1] if len(values) % 2 else bits


def _modules(payload: str, version: int, level: Level, mask: int, *, test: bool) -> int:
    """Return all modules as the bits of a number; in a test those of the format are left out."""
    import qrcode

    code = qrcode.QRCode(version=version, error_correction=_level_codes()[level])
    code.add_data(_one_segment(payload), optimize=0)
    code.makeImpl(test, mask)
    return int(b"".join(bytes(map(bool, row)) for row in code.modules).translate(_DIGITS), 2)


@cache
def _masks(version: int, level: Level) -> tuple[tuple[int, int], ...]:
    """Return what each mask turns over in a test symbol of mask 0, for a test and for good.

    Whatever the symbol says: a mask turns over the same modules, and format bits tell it alone.
    """
    plain = _modules("", version, level, 0, test=True)
    return tuple(
        (
            plain ^ _modules("", version, level, mask, test=True),
            plain ^ _modules("", version, level, mask, test=False),
        )
        for mask in range(8)
    )


def _penalty(modules: int, side: int) -> int:
    """Return how hard a symbol is to read, by ISO/IEC 18004, 7.8.3 (reprint; original not seen).

    Runs of five or more, blocks of two by two, what looks like a finder, and too much of a colour.
    """
    total, same_along = 10 * int(abs(modules.bit_count() / side**2 * 100 - 50) / 5), []
    light = modules ^ ((1 << side**2) - 1)
    for step in (1, side):
        same = ~(modules ^ modules >> step) & _with_neighbours(side, step, 1)
        same_along.append(same)
        five = same & same >> step & same >> 2 * step & same >> 3 * step
        total += five.bit_count() + 2 * (five & ~(five << step)).bit_count()
        finder = _with_neighbours(side, step, 6) & light >> step & light >> 5 * step
        for place in (0, 2, 3, 4, 6):
            finder &= modules >> place * step
        four_light = light & light >> step & light >> 2 * step & light >> 3 * step
        eleven = _with_neighbours(side, step, 10)
        for found in (finder & four_light >> 7 * step, four_light & finder >> 4 * step):
            total += 40 * (found & eleven).bit_count()
    across, down = same_along
    return total + 3 * (across & across >> side & down).bit_count()


@cache
def _with_neighbours(side: int, step: int, count: int) -> int:
    """Return the modules that have so many more beside them (`step` 1), or in their column."""
    columns, rows = (side - count, side) if step == 1 else (side, side - count)
    return sum(((1 << columns) - 1) << side * number for number in range(rows))


def _one_segment(payload: str) -> QRData:
    from qrcode import util

    mode = util.MODE_ALPHA_NUM if _is_alphanumeric(payload) else util.MODE_8BIT_BYTE
    return util.QRData(payload.encode(), mode=cast("Literal[2, 4]", mode))


def _is_alphanumeric(payload: str) -> bool:
    return all(character in ALPHANUMERIC for character in payload)


def _bits_needed(payload: str, version: int) -> int:
    alphanumeric = _is_alphanumeric(payload)
    head = _MODE_BITS + _count_bits(version, alphanumeric)
    if not alphanumeric:
        return head + 8 * len(payload.encode())
    return head + 11 * (len(payload) // 2) + 6 * (len(payload) % 2)


def _count_bits(version: int, alphanumeric: bool) -> int:
    if alphanumeric:
        return 9 if version < 10 else 11
    return 8 if version < 10 else 16


@cache
def _data_bits(version: int, level: Level) -> int:
    from qrcode.base import rs_blocks

    return 8 * sum(block.data_count for block in rs_blocks(version, _level_codes()[level]))


@lru_cache(maxsize=1)
def _level_codes() -> Mapping[Level, Literal[0, 1, 2, 3]]:
    from qrcode import constants

    codes = {level: getattr(constants, f"ERROR_CORRECT_{level}") for level in LEVELS}
    return cast("Mapping[Level, Literal[0, 1, 2, 3]]", codes)


def symbol_choices(payload: str) -> tuple[tuple[int, Level], ...]:
    """Return version and level to try, best first: the smallest that recovers 15 %, then smaller.

    Each has the strongest error correction that its version allows. A payload that no version up
    to 10 holds has none.
    """
    fitting: list[tuple[int, Level]] = []
    for version in range(1, MAX_VERSION + 1):
        if level := highest_level(payload, version):
            fitting.append((version, level))
            if level != "L":
                return tuple(reversed(fitting))
    return ()
