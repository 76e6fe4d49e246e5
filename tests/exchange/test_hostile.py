# SPDX-License-Identifier: MIT
"""Files that are empty, cut off, huge, wrongly encoded or made to harm: one clear sentence each."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wiretrack.errors import SiteFileError
from wiretrack.exchange import raw
from wiretrack.exchange.read import read_site

if TYPE_CHECKING:
    from tests.exchange.conftest import Faults

HEAD = '{"format": "wiretrack-site/1", '
CUT_OFF = "The file breaks off here. It looks cut off; fetch or write it again."


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "The file is empty."),
        (b" \n\t ", "The file is empty."),
        (b"\xef\xbb\xbf", "line 1, column 1: " + CUT_OFF),
        (b"[]", "The file holds an empty list. A site file is an object that begins with"
         ' {"format": "wiretrack-site/1".'),
        (b'{"format": "wire', "line 1, column 12: " + CUT_OFF),
        (HEAD.encode(), "line 1, column 32: " + CUT_OFF),
        (b'{"format": "wiretrack-site/1"', "line 1, column 30: " + CUT_OFF),
        (b'{\n  "format" "x"\n}', "line 2, column 12: The file is not JSON. A colon is missing"
         " here."),
        (b'{"a": 1 "b": 2}', "line 1, column 9: The file is not JSON. A comma or a closing bracket"
         " is missing here."),
        (b"{'format': 1}", "line 1, column 2: The file is not JSON. A key in double quotes is"
         " missing here."),
        (b'{"a": maybe}', "line 1, column 7: The file is not JSON. A value is missing here."),
        (b'{"a": "b\nc"}', "line 1, column 9: The file is not JSON. A text holds a control"
         " character or a line break here."),
        (b'{"a": "b\\qc"}', "line 1, column 9: The file is not JSON. A backslash stands before a"
         " character that needs none."),
        (b'{"a": "\\u12"}', "line 1, column 9: The file is not JSON. Four hexadecimal digits are"
         " missing after \\u."),
        (b"{} {}", "line 1, column 4: The file is not JSON. Something follows after the end of the"
         " document."),
        ("{\"format\": \"Müller\"}".encode("latin-1"), "The file is not UTF-8: the byte 0xfc at"
         " offset 13. Save it as UTF-8."),
        (b"SQLite format 3\0" + b"\xcd" * 84, "The file is a registry, not a site file. Merge it"
         " instead."),
        ("{}".encode("utf-16"), "The file is not UTF-8: the byte 0xff at offset 0. Save it as"
         " UTF-8."),
        (b"[" * 100_000, "The file nests lists or objects too deeply. A site file has few levels."),
        (b"{}", 'format: The key is missing. A site file begins with'
         ' {"format": "wiretrack-site/1"}.'),
        (b'{"format": "wiretrack-site/2", "new": 1}', "format: 'wiretrack-site/2' is another"
         " version of the format; this program reads wiretrack-site/1. Update wiretrack, or dump"
         " the site again."),
        (b'{"format": 7, "new": 1}', "format: the number 7 is not a format. This program reads"
         " wiretrack-site/1."),
    ],
)  # fmt: skip
def test_a_file_that_is_no_site_file_is_refused(
    faults: Faults, content: bytes, sentence: str
) -> None:
    assert faults(content) == [sentence]


@pytest.mark.parametrize(
    ("inside", "sentence"),
    [
        ('"site": {"name": "A", "name": "B"}', "site.name: The key is given twice. Keep one."),
        ('"site": {}, "site": {}', "site: The key is given twice. Keep one."),
        ('"raceways": [{"code": "W", "from": "A", "to": "B", "bends_deg": NaN}]',
         "raceways[0].bends_deg: NaN is not a number that a file may hold. Leave it out where"
         " unknown."),
        ('"site": {"edition": -Infinity}', "site.edition: -Infinity is not a number that a file may"
         " hold. Leave it out where unknown."),
        ('"site": {"edition": 1e999}', "site.edition: 1e999 is not a number that a file may hold."
         " Leave it out where unknown."),
        ('"site": {"edition": %s}' % ("9" * 5000), "site.edition: %s… is not a number that a file"
         " may hold. Leave it out where unknown." % ("9" * 59)),
        ('"site": {"name": "a\\u0007b"}', "site.name: The text is refused: it holds a control"
         " character (U+0007) as character 2. Take it out."),
        ('"site": {"name": "a\\u0085b"}', "site.name: The text is refused: it holds a control"
         " character (U+0085) as character 2. Take it out."),
        ('"site": {"name": "a\x7fb"}', "site.name: The text is refused: it holds a control"
         " character (U+007F) as character 2. Take it out."),
        ('"site": {"name": "a\\nb"}', "site.name: The text is refused: it holds a line break"
         " (U+000A) as character 2. Take it out."),
        ('"site": {"name": "a\u2028b"}', "site.name: The text is refused: it holds a line break"
         " (U+2028) as character 2. Take it out."),
        ('"site": {"name": "a\\tb"}', "site.name: The text is refused: it holds a tab (U+0009) as"
         " character 2. Take it out."),
        ('"site": {"name": "\\ud800"}', "site.name: The text is refused: it holds half a surrogate"
         " pair (U+D800) as character 1. Take it out."),
        ('"site": {"name": "a\u202eb"}', "site.name: The text is refused: it holds a sign that"
         " turns the writing direction (U+202E) as character 2. Take it out."),
        ('"site": {"name": "a\\u2066b"}', "site.name: The text is refused: it holds a sign that"
         " turns the writing direction (U+2066) as character 2. Take it out."),
        ('"site": {"na\\u001bme": "b"}', "site['na\\x1bme']: The key is refused: it holds a control"
         " character (U+001B) as character 3. Take it out."),
        ('"enclosures": [{"code": "\\u0000"}]', "enclosures[0].code: The text is refused: it holds"
         " a control character (U+0000) as character 1. Take it out."),
    ],
)  # fmt: skip
def test_what_no_file_may_hold_is_named_with_its_place(
    faults: Faults, inside: str, sentence: str
) -> None:
    place = sentence.partition(": ")[0]
    assert [f for f in faults(HEAD + inside + "}") if f.startswith(place)] == [sentence]


def test_an_escaped_pair_of_surrogates_is_one_character(tmp_path: Path) -> None:
    file = tmp_path / "site.json"
    file.write_text(HEAD + r'"site": {"name": "\ud83d\udd0c"}}', encoding="utf-8")
    assert read_site(file).site.name == "\N{ELECTRIC PLUG}"


def test_markup_is_a_text_like_any_other(tmp_path: Path) -> None:
    name = "<script>alert('1')</script> & \"; DROP TABLE site; --"
    file = tmp_path / "site.json"
    file.write_text(HEAD + f'"site": {{"name": {json.dumps(name)}}}}}', encoding="utf-8")
    assert read_site(file).site.name == name


def test_a_message_shows_nothing_that_steers_a_terminal(
    site: dict[str, Any], faults: Faults
) -> None:
    site["enclosures"][0]["\N{ZERO WIDTH JOINER}kind"] = "x"
    (fault,) = faults(site)
    assert fault.startswith("enclosures[0]['\\u200dkind']: '\\u200dkind' is not a key")


def test_a_very_long_value_is_cut_in_the_message(site: dict[str, Any], faults: Faults) -> None:
    site["x" * 100_000] = 1
    (fault,) = faults(site)
    assert len(fault) < 500


def test_a_file_over_the_limit_is_refused_before_it_is_parsed(
    faults: Faults, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(raw, "MAX_BYTES", 2**20)
    assert faults(HEAD.encode() + b" " * 2**20) == [
        "The file is larger than 1 MB. Load the site in smaller parts."
    ]


def test_a_file_of_countless_lists_is_refused_before_it_is_parsed(
    faults: Faults, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(raw, "MAX_ITEMS", 1000)
    assert faults(HEAD + '"site": [' + "[]," * 1000 + "0]}") == [
        "The file holds more than 1000 lists and objects. Load the site in smaller parts."
    ]


def test_free_form_values_have_few_levels(site: dict[str, Any], faults: Faults) -> None:
    deep: Any = {}
    for _ in range(60):
        deep = {"in": deep}
    uuid, time_ = "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab", "2026-05-02T10:15:00Z"
    change = {"id": uuid, "at": time_, "what": "site", "record": uuid, "action": "changed"}
    site["changes"] = [change | {"new": deep}]
    assert faults(site) == [
        "changes[0]: It nests lists or objects more than 50 deep. Make it flatter."
    ]


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    file = tmp_path / "none.json"
    with pytest.raises(SiteFileError) as caught:
        read_site(file)
    why = "It can't be read: No such file or directory."
    assert str(caught.value) == f"{file} was not loaded, 1 fault: {why}"


def test_an_endless_device_is_read_no_further_than_the_limit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    zero = Path("/dev/zero")
    if not zero.exists():
        pytest.skip("no /dev/zero here")
    monkeypatch.setattr(raw, "MAX_BYTES", 2**16)
    with pytest.raises(SiteFileError, match="larger than"):
        read_site(zero)


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.binary(max_size=200))
def test_no_bytes_whatever_bring_the_reader_down(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "site.json"
    file.write_bytes(content)
    with pytest.raises(SiteFileError):
        read_site(file)


ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["code", "from", "to", "id", "x", "path"]), inner, max_size=4
        )
    ),
    max_leaves=8,
)
TABLES = st.sampled_from(
    ["site", "enclosures", "devices", "raceways", "pulls", "conductors", "readings", "ringouts"]
)


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.dictionaries(TABLES, ANY_JSON | st.lists(ANY_JSON, max_size=3), max_size=3))
def test_no_document_whatever_brings_the_reader_down(
    tmp_path: Path, document: dict[str, object]
) -> None:
    file = tmp_path / "site.json"
    file.write_text(json.dumps({"format": "wiretrack-site/1", **document}), encoding="utf-8")
    try:
        read_site(file)
    except SiteFileError as error:
        kinds = {unicodedata.category(character) for character in str(error)}
        assert not kinds & {"Cc", "Cf", "Cs", "Zl", "Zp"}


def test_a_cut_at_any_byte_is_refused(tmp_path: Path, site: dict[str, Any]) -> None:
    whole = json.dumps(site).encode()
    file = tmp_path / "site.json"
    for length in range(0, len(whole) - 1, 7):
        file.write_bytes(whole[:length])
        with pytest.raises(SiteFileError):
            read_site(file)
