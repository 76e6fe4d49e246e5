# SPDX-License-Identifier: MIT
from __future__ import annotations

import ipaddress
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.errors import BadInputError, TagError
from wiretrack.model.tags import (
    ALPHABET,
    ALPHANUMERIC,
    box_in,
    check_base_address,
    check_character,
    make_box_payload,
    make_payload,
    read_payload,
)

tags = st.text(ALPHABET, min_size=6, max_size=6).map(lambda body: body + check_character(body))
host_parts = st.from_regex(r"[a-z]([a-z0-9-]{0,20}[a-z0-9])?", fullmatch=True)
hosts = st.one_of(
    st.lists(host_parts, min_size=1, max_size=4).map(".".join),
    st.integers(0, 2**32 - 1).map(lambda number: str(ipaddress.IPv4Address(number))),
)
ports = st.one_of(st.just(""), st.integers(1, 65535).map(lambda port: f":{port}"))


@given(tag=tags, host=hosts, port=ports, slash=st.sampled_from(["", "/"]))
def test_an_address_comes_back_as_its_tag_and_only_in_the_qr_alphanumeric_set(
    tag: str, host: str, port: str, slash: str
) -> None:
    payload = make_payload(tag, f"http://{host}{port}{slash}")
    assert payload == f"HTTP://{host}{port}/{tag}".upper()
    assert set(payload) <= set(ALPHANUMERIC)
    assert read_payload(payload) == tag


@given(tag=tags)
def test_a_bare_payload_comes_back_as_its_tag(tag: str) -> None:
    assert make_payload(tag) == f"WT:{tag}"
    assert read_payload(f"WT:{tag}") == tag
    assert read_payload(f" wt:{tag.lower()}\n") == tag


@given(code=st.text(min_size=1, max_size=30), base=st.sampled_from([None, "http://barn:8080"]))
def test_a_boxs_payload_comes_back_as_its_code_and_is_no_conductors(
    code: str, base: str | None
) -> None:
    payload = make_box_payload(code, base)
    assert payload.isascii()
    assert box_in(payload) == code
    assert base is not None or read_payload(payload) is None


@pytest.mark.parametrize("text", ["", "WT:", "WT:BOX/", "WT:BOX/A/B", "WT:7KQ2MBH", "BOX/A", "x"])
def test_what_names_no_box_gives_none(text: str) -> None:
    assert box_in(text) is None


@given(text=st.text())
def test_no_text_whatever_breaks_the_readers(text: str) -> None:
    tag = read_payload(text)
    assert tag is None or len(tag) == 7
    assert box_in(text) != ""


def test_the_alphanumeric_set_has_the_45_characters_of_iso_18004() -> None:
    # ISO/IEC 18004, alphanumeric mode: 0-9, A-Z, space and $ % * + - . / :
    assert sorted(ALPHANUMERIC) == sorted(string.digits + string.ascii_uppercase + " $%*+-./:")


@pytest.mark.parametrize(
    "text",
    [
        "http://another-host.lan/some/path/7KQ-2MBH",
        "https://x/7kq2mbh/",
        "WT:7KQ2MBH",
    ],
)
def test_a_payload_with_another_host_is_known_by_its_last_part(text: str) -> None:
    assert read_payload(text) == "7KQ2MBH"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "WT:",
        "WT:7KQ2MBJ",
        "7KQ2MBH",
        "http://x",
        "http://7KQ2MBH",
        "ftp://x/7KQ2MBH",
        "http://x/7KQ2MBH?q=1",
        "http://x y/7KQ2MBH",
        "WT:٧KQ2MBH",
    ],
)
def test_what_is_not_ours_gives_nothing(text: str) -> None:
    assert read_payload(text) is None


@pytest.mark.parametrize(
    ("address", "shown"),
    [
        ("wires.lan", "HTTP://WIRES.LAN"),
        (" http://10.0.0.7:8080/ ", "HTTP://10.0.0.7:8080"),
        ("HTTP://BARN", "HTTP://BARN"),
    ],
)
def test_a_base_address_is_brought_to_one_form(address: str, shown: str) -> None:
    assert check_base_address(address) == shown


@pytest.mark.parametrize(
    "address",
    [
        "",
        "http://",
        "http://x/path",
        "http://me@x",
        "http://x:",
        "http://bücher.lan",
        "http://a..b",
        "http://-a",
        "http://1.2.3",
        "http://256.1.1.1",
        "http://[::1]",
        "ftp://x",
        "x\ny",
        "a" * 300,
    ],
)
def test_an_address_that_cannot_be_is_refused_by_name(address: str) -> None:
    with pytest.raises(BadInputError) as caught:
        check_base_address(address)
    assert str(caught.value) == (
        f"Base address '{address}' is not http, a host and a port. "
        "Write it like http://192.168.1.20:8080 or http://wires.lan."
    )


def test_https_and_wild_ports_are_refused_in_words() -> None:
    with pytest.raises(BadInputError, match=r"starts with https; it must be http\. Write it like"):
        check_base_address("https://x")
    with pytest.raises(BadInputError, match=r"has port 70000; it must be 1 to 65535\."):
        check_base_address("http://x:70000")
    with pytest.raises(BadInputError, match=r"has port 0;"):
        check_base_address("http://x:0")


def test_a_wrong_tag_makes_no_payload() -> None:
    with pytest.raises(TagError):
        make_payload("7KQ2MBJ")
