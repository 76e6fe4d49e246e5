# SPDX-License-Identifier: MIT
"""File names that every medium takes.

The rules are Microsoft's "Naming Files, Paths, and Namespaces": the signs and the names of devices
that Windows refuses, no name that ends in a dot or a space, and no two that differ by case alone.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.model.tags import make_tag
from wiretrack.render.binder.render import Addresses, safe_names

FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f]')
DEVICES = [
    "CON", "PRN", "AUX", "NUL", *(f"COM{n}" for n in range(10)), *(f"LPT{n}" for n in range(10)),
    "COM¹", "COM²", "COM³", "LPT¹", "LPT²", "LPT³",
]  # fmt: skip


@given(st.lists(st.text(min_size=1, max_size=40), max_size=30))
def test_any_codes_get_names_that_every_medium_takes_and_no_two_alike(codes: list[str]) -> None:
    names = safe_names(codes)
    assert set(names) == set(codes)
    folded = [name.casefold() for name in names.values()]
    assert len(set(folded)) == len(folded)
    for name in names.values():
        assert re.fullmatch(r"[A-Za-z0-9_+-]{1,120}", name)
        assert not FORBIDDEN.search(name)
        assert name.upper() not in DEVICES


@given(st.lists(st.text(min_size=1, max_size=40), max_size=10), st.randoms())
def test_names_follow_from_the_codes_alone_whatever_their_order(codes: list[str], chance) -> None:  # type: ignore[no-untyped-def]
    mixed = list(codes)
    chance.shuffle(mixed)
    assert safe_names(codes) == safe_names(mixed)


@pytest.mark.parametrize("device", DEVICES)
def test_the_name_of_a_device_is_never_a_files_name(device: str) -> None:
    for code in (device, device.lower(), device.title()):
        assert safe_names([code])[code].upper() not in DEVICES


def test_a_plain_code_names_its_page_and_codes_that_differ_by_case_are_told_apart() -> None:
    names = safe_names(["MDB", "W1", "w1", "A/B", "A-B", "Küche"])
    assert (names["MDB"], names["A-B"]) == ("MDB", "A-B")
    assert len({names["W1"].casefold(), names["w1"].casefold(), "w1"}) == 3
    assert re.fullmatch(r"A-B-[0-9a-f]{6}", names["A/B"])
    assert re.fullmatch(r"Kuche-[0-9a-f]{6}", names["Küche"])


def test_a_record_that_is_not_in_the_binder_has_no_page() -> None:
    addresses = Addresses({"circuit": ["PUMP"]})
    assert addresses.page("circuit", "PUMP") == "circuits/PUMP.html"
    assert addresses.page("circuit", "NOPE") is None
    assert addresses.page("raceway", "PUMP") is None


def test_the_record_of_a_tag_is_found_in_both_its_writings() -> None:
    tag, addresses = make_tag(), Addresses({"circuit": ["PUMP"]})
    written = f"{tag[:3]}-{tag[3:]}"
    assert addresses.page("conductor", tag) is None
    addresses.place(tag, "circuits/PUMP.html")
    for name in (tag, written, str(tag)):
        assert addresses.page("conductor", name) == f"circuits/PUMP.html#{written}"
    assert addresses.page("subject", written) == f"circuits/PUMP.html#{written}"
