# SPDX-License-Identifier: MIT
"""A chain of entries: what it proves, what it doesn't, and the standards that it rests on."""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256
from typing import TYPE_CHECKING, Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.chain import BEGINNING, MOST_BYTES, Entry, faults, sealed
from wiretrack.store.writers import Writer

if TYPE_CHECKING:
    from collections.abc import Sequence

SITE = "55ac29b9-f867-4520-96f5-b07683300001"
WRITER = Writer.new(SITE)


def chained(count: int, writer: Writer = WRITER) -> list[Entry]:
    found: list[Entry] = []
    for number in range(1, count + 1):
        first = {"kind": "writer", "site": SITE, "key": writer.public_key.hex()}
        said = {"kind": "change", "rows": [number]} if found else first
        previous = found[-1].hash if found else BEGINNING
        entry = sealed(said, writer.name, number, SITE, previous)
        found.append(replace(entry, signature=writer.sign(entry.hash)))
    return found


def of(entries: Sequence[Entry]) -> list[tuple[int, str]]:
    return [(fault.number, fault.why) for fault in faults((entry, entry.hash) for entry in entries)]


# FIPS 180-4's examples, as NIST publishes them ("SHA256.pdf", Examples with Intermediate Values).
@pytest.mark.parametrize(
    ("text", "digest"),
    [
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
    ],
)
def test_the_digest_is_that_of_fips_180_4(text: bytes, digest: str) -> None:
    entry = replace(chained(1)[0], salt=b"", body=text, content=bytes.fromhex(digest))
    assert of([entry])[0][1] != "its body was changed"


# RFC 8032, section 7.1: TEST 1 and TEST 3. Secret key, public key, message, signature.
RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b"
        "46bd25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc"
        "6594a7c15e9716ed28dc027beceea1ec40a",
    ),
]


@pytest.mark.parametrize(("seed", "public", "message", "signature"), RFC_8032)
def test_a_writer_signs_as_rfc_8032_does(
    seed: str, public: str, message: str, signature: str
) -> None:
    writer = Writer(seed, SITE)
    assert writer.public_key.hex() == public
    assert writer.sign(bytes.fromhex(message)).hex() == signature
    assert writer.name == sha256(bytes.fromhex(public)).digest()[:16]


def test_a_whole_chain_has_no_fault() -> None:
    assert of(chained(5)) == []


@given(at=st.integers(0, 4), bit=st.integers(0, 127))
def test_a_flipped_bit_of_a_body_is_named(at: int, bit: int) -> None:
    entries = chained(5)
    body = bytearray(entries[at].body or b"")
    body[bit // 8 % len(body)] ^= 1 << bit % 8
    entries[at] = replace(entries[at], body=bytes(body))
    assert of(entries) == [(at + 1, "its body was changed")]


@given(at=st.integers(0, 4), field=st.sampled_from(["previous", "content", "salt"]))
def test_a_flipped_bit_of_what_is_hashed_is_named(at: int, field: str) -> None:
    entries = chained(5)
    value = bytearray(getattr(entries[at], field))
    value[3] ^= 4
    changed: Any = {field: bytes(value)}
    entries[at] = replace(entries[at], **changed)
    assert [number for number, _ in of(entries)] == [at + 1]


def test_one_that_is_left_out_is_missed() -> None:
    entries = chained(5)
    assert of(entries[:2] + entries[3:]) == [(4, "entry 3 is missing")]
    assert of(entries[1:]) == [(2, "entry 1 is missing")]


def test_one_put_in_between_by_somebody_else_is_found() -> None:
    entries = chained(3)
    forged = sealed({"kind": "change", "rows": []}, WRITER.name, 4, SITE, entries[-1].hash)
    other = Ed25519PrivateKey.generate()
    assert of([*entries, replace(forged, signature=other.sign(forged.hash))]) == [
        (4, "its signature is wrong")
    ]
    assert of([*entries, replace(forged, signature=WRITER.sign(forged.hash))]) == []


def test_nobody_bears_the_name_of_another_writer() -> None:
    entries = chained(2, Writer.new(SITE))
    assert of([replace(entry, writer=WRITER.name) for entry in entries])[0] == (
        1,
        "its key is another writer's",
    )


def test_words_that_were_erased_leave_a_chain_that_proves() -> None:
    entries = chained(4)
    entries[2] = replace(entries[2], body=None, salt=None)
    assert of(entries) == []


def test_the_first_fault_of_each_writer_is_named() -> None:
    other = Writer.new(SITE)
    both = [*chained(4), *chained(4, other)]
    for at in (1, 3, 6):
        both[at] = replace(both[at], body=b"{}")
    found = list(faults((entry, entry.hash) for entry in both))
    assert [(fault.writer, fault.number) for fault in found] == [(WRITER.name, 2), (other.name, 3)]


def test_a_body_is_at_most_one_mebibyte() -> None:
    sealed({"kind": "part"}, WRITER.name, 1, SITE, BEGINNING, b"x" * (MOST_BYTES - 100))
    with pytest.raises(ValueError, match="at most 1048576"):
        sealed({"kind": "part"}, WRITER.name, 1, SITE, BEGINNING, b"x" * MOST_BYTES)
