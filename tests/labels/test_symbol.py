# SPDX-License-Identifier: MIT
from __future__ import annotations

import string
from itertools import product
from random import Random
from typing import Literal

import pytest
import qrcode
import segno
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from qrcode.util import QRData

from tests.drawing import each
from wiretrack.errors import BadInputError, OutOfRangeError
from wiretrack.labels.symbol import (
    LEVELS,
    QUIET_ZONE_MODULES,
    Level,
    capacity,
    highest_level,
    make_symbol,
    side_modules,
    symbol_choices,
)
from wiretrack.model.tags import ALPHANUMERIC
from wiretrack.sources import ISO_18004

# ISO/IEC 18004, table of data capacities, versions 1 to 10, levels L M Q H (reprints compared).
ALPHANUMERIC_CAPACITY = {
    1: (25, 20, 16, 10),
    2: (47, 38, 29, 20),
    3: (77, 61, 47, 35),
    4: (114, 90, 67, 50),
    5: (154, 122, 87, 64),
    6: (195, 154, 108, 84),
    7: (224, 178, 125, 93),
    8: (279, 221, 157, 122),
    9: (335, 262, 189, 143),
    10: (395, 311, 221, 174),
}
BYTE_CAPACITY = {
    1: (17, 14, 11, 7),
    2: (32, 26, 20, 14),
    3: (53, 42, 32, 24),
    4: (78, 62, 46, 34),
    5: (106, 84, 60, 44),
    6: (134, 106, 74, 58),
    7: (154, 122, 86, 64),
    8: (192, 152, 108, 84),
    9: (230, 180, 130, 98),
    10: (271, 213, 151, 119),
}
# ISO/IEC 18004: modules a side, quiet zone left out.
SIDES = {1: 21, 2: 25, 3: 29, 4: 33, 5: 37, 6: 41, 7: 45, 8: 49, 9: 53, 10: 57}


@each(product(range(1, 11), range(4)))
def test_capacities_are_those_of_iso_18004(version: int, number: int) -> None:
    level = LEVELS[number]
    assert capacity(version, level) == ALPHANUMERIC_CAPACITY[version][number]
    assert capacity(version, level, alphanumeric=False) == BYTE_CAPACITY[version][number]


@each(product(range(1, 11), range(4)))
def test_a_full_symbol_can_be_made_and_one_character_more_is_refused(
    version: int, number: int
) -> None:
    level, holds = LEVELS[number], ALPHANUMERIC_CAPACITY[version][number]
    assert len(make_symbol("A" * holds, version, level).rows) == SIDES[version]
    with pytest.raises(BadInputError) as caught:
        make_symbol("A" * (holds + 1), version, level)
    assert str(caught.value) == (
        f"'{'A' * (holds + 1)}' has {holds + 1} characters; a QR symbol of version {version} at "
        f"level {level} holds {holds}. Use a shorter address, or a higher version."
    )


def test_sides_and_quiet_zone_are_those_of_iso_18004() -> None:
    assert {version: side_modules(version) for version in SIDES} == SIDES
    assert QUIET_ZONE_MODULES == 4
    assert ISO_18004.cite() == "ISO/IEC 18004"


def ends_on_a_byte(payload: str) -> bool:
    """Return whether mode, count, characters and terminator fill whole bytes.

    There segno 1.6.6 adds eight zero bits; ISO/IEC 18004, 7.4.10 (as segno quotes it), adds none.
    """
    bits = 4 + 9 + 11 * (len(payload) // 2) + 6 * (len(payload) % 2) + 4
    return bits % 8 == 0


@settings(max_examples=120, deadline=None)
@given(
    payload=st.text(ALPHANUMERIC, min_size=1, max_size=34).filter(lambda x: not ends_on_a_byte(x)),
    version=st.integers(3, 6),
    level=st.sampled_from(["L", "M", "Q", "H"]),
    mask=st.integers(0, 7),
)
def test_a_symbol_is_the_one_that_segno_makes(
    payload: str, version: int, level: Level, mask: int
) -> None:
    theirs = segno.make_qr(
        payload, error=level, version=version, mask=mask, mode="alphanumeric", boost_error=False
    )
    assert make_symbol(payload, version, level, mask).rows == tuple(map(bytes, theirs.matrix))


@settings(max_examples=60, deadline=None)
@given(
    payload=st.text(string.ascii_uppercase, min_size=1, max_size=35),
    version=st.integers(3, 6),
    level=st.sampled_from(["L", "M", "Q", "H"]),
    mask=st.integers(0, 7),
)
def test_a_symbol_is_the_one_that_a_second_independent_encoder_makes(
    payload: str, version: int, level: Level, mask: int
) -> None:
    theirs = zxingcpp.create_barcode(
        payload, zxingcpp.BarcodeFormat.QRCode, ec_level=level, version=version, data_mask=mask
    )
    picture = Image.fromarray(theirs.to_image(scale=1, add_quiet_zones=False))
    dots = picture.tobytes()
    rows = (dots[start : start + picture.width] for start in range(0, len(dots), picture.width))
    assert make_symbol(payload, version, level, mask).rows == tuple(
        bytes(dot == 0 for dot in row) for row in rows
    )


@each(product(["WT:", "WT", "HTTP://192.168.1.20/", "http://è.example/"], ["7KQ2MBH", "abé~0:/"]))
def test_a_symbol_that_follows_from_others_is_the_one_that_the_encoder_makes(
    leading_to: str, letters: str
) -> None:
    drawn = Random(letters)
    for _ in range(150):  # some 50 bits differ: the last hundred follow from the first
        payload = leading_to + "".join(drawn.choices(letters, k=7))
        code = qrcode.QRCode(5, qrcode.constants.ERROR_CORRECT_M, mask_pattern=2)
        mode: Literal[2, 4] = 2 if set(payload) <= set(ALPHANUMERIC) else 4  # ISO/IEC 18004
        code.add_data(QRData(payload.encode(), mode), optimize=0)
        code.make(fit=False)
        theirs = tuple(bytes(map(bool, row)) for row in code.modules)
        assert make_symbol(payload, 5, "M", 2).rows == theirs, payload


@pytest.mark.parametrize("payload", ["WT:7KQ2MBH", "HTTP://192.168.1.20:8080/7KQ2MBH"])
def test_the_mask_we_leave_to_choose_gives_one_of_segnos_eight_symbols(payload: str) -> None:
    version, level = symbol_choices(payload)[0]
    symbol = make_symbol(payload, version, level)
    theirs = [
        tuple(
            map(
                bytes,
                segno.make_qr(
                    payload,
                    error=level,
                    version=version,
                    mask=mask,
                    mode="alphanumeric",
                    boost_error=False,
                ).matrix,
            )
        )
        for mask in range(8)
    ]
    assert theirs.count(symbol.rows) == 1


def test_a_bare_payload_just_fits_the_smallest_symbol_with_the_strongest_correction() -> None:
    # ISO/IEC 18004: version 1 level H holds 10 characters, and WT: with a tag has 10.
    assert symbol_choices("WT:7KQ2MBH") == ((1, "H"),)
    assert highest_level("WT:7KQ2MBHX", 1) == "Q"


def test_an_address_takes_a_version_that_recovers_15_percent_before_a_smaller_one() -> None:
    # ISO/IEC 18004: 47 characters fit version 2 at L only, and version 3 up to Q.
    assert symbol_choices("A" * 47) == ((3, "Q"), (2, "L"))
    assert symbol_choices("A" * 400) == ()


def test_a_payload_with_small_letters_is_held_as_bytes() -> None:
    # ISO/IEC 18004: version 2 holds 32 bytes at level L, version 3 as many at level Q.
    assert symbol_choices("wt:" + "a" * 29) == ((3, "Q"), (2, "L"))
    rows = make_symbol("a" * 32, 2, "L", 0).rows
    theirs = segno.make_qr("a" * 32, error="L", version=2, mask=0, boost_error=False, mode="byte")
    assert rows == tuple(map(bytes, theirs.matrix))


def test_a_mask_that_does_not_exist_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match=r"QR mask is 8; it must be 0 to 7\."):
        make_symbol("A", 1, "L", 8)


@settings(max_examples=40, deadline=None)
@given(
    payload=st.text(ALPHANUMERIC, max_size=20).map("W{}".format),
    version=st.integers(2, 10),
    level=st.sampled_from(["L", "M"]),
)
def test_the_mask_is_the_one_with_the_least_penalty_as_qrcode_chooses_it(
    payload: str, version: int, level: Level
) -> None:
    theirs = qrcode.QRCode(version, getattr(qrcode.constants, f"ERROR_CORRECT_{level}"), border=0)
    theirs.add_data(payload, optimize=0)
    theirs.make(fit=False)
    rows = tuple(bytes(map(bool, row)) for row in theirs.modules)
    assert make_symbol(payload, version, level).rows == rows
