# SPDX-License-Identifier: MIT
"""The hash and the signature of the log against published vectors, and what entries may say."""

from __future__ import annotations

import json
from hashlib import sha256
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wiretrack.chain import MOST_BYTES, Entry, faults, said_in, sealed, writer_of
from wiretrack.store import salvage
from wiretrack.store.replay import Replay
from wiretrack.store.rows import Kept
from wiretrack.store.same import Same
from wiretrack.store.schema import RECORDS
from wiretrack.store.writers import Writer

# NIST, "Cryptographic Standards and Guidelines: Examples with Intermediate Values", SHA-256 (FIPS
# 180-4): one block, two blocks; the long message of FIPS 180-2, B.3; the empty one of the CAVP set.
SHA256 = {
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq":
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    b"a" * 1_000_000: "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
    b"": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
}  # fmt: skip

# RFC 8032, 7.1, tests 1 to 3: secret key, public key, message, signature.
ED25519 = [
    ("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
     "d25bf5f0595bbe24655141438e7a100b"),
    ("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
     "387b2eaeb4302aeeb00d291612bb0c00"),
    ("c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
     "4a7c15e9716ed28dc027beceea1ec40a"),
]  # fmt: skip


@pytest.mark.parametrize("message", SHA256, ids=lambda message: str(len(message)))
def test_the_hash_of_the_log_is_sha_256(message: bytes) -> None:
    assert sha256(message).hexdigest() == SHA256[message]
    if len(message) < MOST_BYTES:
        entry = sealed({}, bytes(16), 1, "S", bytes(32), message)
        salt, body = entry.salt or b"", entry.body or b""
        assert entry.content == sha256(salt + body).digest()
        assert entry.hash == sha256(entry.header).digest()


@pytest.mark.parametrize(("seed", "public", "message", "signature"), ED25519)
def test_a_writer_signs_by_ed25519(seed: str, public: str, message: str, signature: str) -> None:
    writer = Writer(seed, "S")
    assert writer.public_key.hex() == public
    assert writer.sign(bytes.fromhex(message)).hex() == signature


@pytest.mark.parametrize(("seed", "public", "message", "signature"), ED25519)
def test_a_signature_that_differs_in_one_bit_is_named(
    seed: str, public: str, message: str, signature: str
) -> None:
    writer = Writer(seed, "S")
    first = sealed(
        {"key": public, "site": "S"}, writer_of(bytes.fromhex(public)), 1, "S", bytes(32)
    )
    right = writer.sign(first.hash)
    signed = Entry(**{**vars(first), "signature": right})
    assert list(faults([(signed, first.hash)])) == []
    wrong = Entry(**{**vars(first), "signature": bytes([right[0] ^ 1]) + right[1:]})
    assert [fault.why for fault in faults([(wrong, first.hash)])] == ["its signature is wrong"]
    assert [fault.why for fault in faults([(first, first.hash)])] == ["it is not signed"]


ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
ROW = st.fixed_dictionaries(
    {},
    optional={
        "table": st.sampled_from(RECORDS) | ANY, "id": st.text() | ANY, "change": ANY,
        "added": st.dictionaries(st.sampled_from(["code", "id", "kind", "x"]), ANY) | ANY,
        "changed": st.dictionaries(st.sampled_from(["code", "id", "name"]), ANY) | ANY,
        "removed": ANY,
    },
)  # fmt: skip
SAID = st.fixed_dictionaries(
    {"kind": st.sampled_from(["part", "change", "load", "rescue", "other"]) | ANY},
    optional={"rows": st.lists(ROW, max_size=4) | ANY, "kept_rows": ANY, "at": ANY, "by": ANY,
              "id": ANY, "file": ANY, "part": ANY, "more": ANY, "gone": ANY},
)  # fmt: skip


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(SAID, max_size=4))
def test_whatever_a_strangers_entries_say_the_replay_goes_on(said: list[Any]) -> None:
    replay = REPLAY
    for each in said:
        body = json.dumps(each).encode()
        replay.apply(Entry(bytes(16), 2, "S", bytes(32), bytes(32), bytes(16), body))
    assert replay.db.execute("PRAGMA integrity_check").fetchone() == ("ok",)


REPLAY = Replay(Same())


@given(st.binary(max_size=300) | st.just(b"[" * 100_000))
def test_a_body_of_any_bytes_says_something_or_nothing(body: bytes) -> None:
    assert isinstance(said_in(body), dict)


@given(st.binary(max_size=9000), st.binary(max_size=9000))
def test_rows_are_looked_for_in_any_bytes(data: bytes, wal: bytes) -> None:
    begun = b"\x0b\x00\x2c\x01\x4c\x4c\x4c\x2c"
    for each in (data, data[:40] + begun + data[40:], begun + data):
        for row in salvage.log_rows(each, wal):
            assert row.keys() >= {"writer", "number", "hash", "body"}


@given(st.binary(max_size=200))
def test_a_part_that_cant_be_unpacked_is_refused(data: bytes) -> None:
    kept = Kept()
    kept.add(sealed({"kind": "part", "file": "a", "part": 1}, bytes(16), 1, "S", bytes(32), data))
    with pytest.raises(ValueError, match="the parts of file a "):
        kept.take("a")
