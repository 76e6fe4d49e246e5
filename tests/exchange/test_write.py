# SPDX-License-Identifier: MIT
"""A file is put in place whole or not at all, and looks the same each time."""

from __future__ import annotations

import errno
import io
import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.errors import FileWriteError, OutOfRangeError
from wiretrack.exchange.read import read_site
from wiretrack.exchange.write import write_csv, write_site
from wiretrack.model.entities import Enclosure, Pull, Raceway, Reading
from wiretrack.model.parts import Device, SiteFacts
from wiretrack.model.source import SiteDocument

if TYPE_CHECKING:
    from collections.abc import Callable

OLD = '{"format": "wiretrack-site/1"}'  # as wiretrack wrote one before
MILL = SiteDocument(
    site=SiteFacts(name="Mühle"),
    enclosures=(Enclosure(code="A", wet=True), Enclosure(code="B", name="")),
    devices=(
        Device(enclosure="A", code="Q4", poles=(("Q4:1", "Q4:2"), ("Q4:N:1", "TB:1"))),
        Device(enclosure="A", code="Q5"),
    ),
    raceways=(
        Raceway(code="W", from_enclosure="A", to_enclosure="B", length_m=0.1, walls_m=(3.0, 0.25)),
    ),
    pulls=(Pull(code="P", path=("W",)),),
    rest={"ringouts": ()},
)
TEXT = """{
  "format": "wiretrack-site/1",
  "site": {"name": "Mühle"},
  "enclosures": [
    {"code": "A", "wet": true},
    {"code": "B"}
  ],
  "devices": [
    {"enclosure": "A", "code": "Q4", "poles": [["1", "2"], ["Q4:N:1", "TB:1"]]},
    {"enclosure": "A", "code": "Q5"}
  ],
  "raceways": [
    {"code": "W", "from": "A", "to": "B", "length": "0.1 m", "walls": ["3 m", "0.25 m"]}
  ],
  "pulls": [
    {"code": "P", "path": ["W"]}
  ],
  "ringouts": []
}
"""


def full_disk(*_: object) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_file_has_one_record_a_line_and_ends_with_a_line_break(tmp_path: Path) -> None:
    file = tmp_path / "site.json"
    write_site(MILL, file)
    assert file.read_bytes() == TEXT.encode()


def test_a_stream_gets_the_same_text() -> None:
    stream = io.StringIO()
    write_site(MILL, stream)
    assert stream.getvalue() == TEXT


def test_a_stream_of_another_encoding_gets_utf_8() -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    write_site(MILL, stream)
    assert stream.buffer.getvalue() == TEXT.encode()


def test_a_folder_has_a_file_for_each_table(tmp_path: Path) -> None:
    write_csv(MILL, tmp_path / "mill")
    assert sorted(file.name for file in (tmp_path / "mill").iterdir()) == [
        "devices.csv",
        "enclosures.csv",
        "pulls.csv",
        "raceways.csv",
        "ringouts.csv",
        "site.csv",
    ]
    assert (tmp_path / "mill" / "devices.csv").read_bytes() == (
        b"enclosure,code,kind,closed,rating,termination_rating,poles,id\r\n"
        b'A,Q4,,,,,"1-2, Q4:N:1-TB:1",\r\n'
        b"A,Q5,,,,,,\r\n"
    )


def test_a_file_that_was_there_is_replaced_and_nothing_is_left_over(tmp_path: Path) -> None:
    file = tmp_path / "site.json"
    file.write_text(OLD)
    write_site(MILL, file)
    assert json.loads(file.read_text(encoding="utf-8"))["site"] == {"name": "Mühle"}
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_full_disk_leaves_the_old_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    file = tmp_path / "site.json"
    file.write_text(OLD)
    if step == "fsync":
        monkeypatch.setattr(os, "fsync", full_disk)
    else:
        monkeypatch.setattr(Path, "replace", full_disk)
    with pytest.raises(FileWriteError) as caught:
        write_site(MILL, file)
    assert str(caught.value) == (
        f"{file} can't be written: No space left on device. Nothing was changed; name another"
        " place."
    )
    assert file.read_text() == OLD
    assert list(tmp_path.iterdir()) == [file]


def test_a_full_disk_leaves_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(FileWriteError, match="No space left"):
        write_csv(MILL, tmp_path / "mill")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    folder = tmp_path / "mill"
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")
    with pytest.raises(FileWriteError) as caught:
        write_csv(MILL, folder)
    assert str(caught.value) == (
        f"{folder} can't be written: it is there already. Nothing was changed; name another place."
    )
    assert [file.name for file in folder.iterdir()] == ["mine.txt"]


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    folder = tmp_path / "mill"
    folder.mkdir()
    write_csv(MILL, folder)
    assert read_site(folder).site.name == "Mühle"


@pytest.mark.parametrize("write", [write_site, write_csv])
def test_a_place_that_isnt_there_is_named(
    tmp_path: Path, write: Callable[[SiteDocument, Path], None]
) -> None:
    with pytest.raises(FileWriteError, match="No such file or directory"):
        write(MILL, tmp_path / "none" / "site")


@pytest.mark.parametrize("write", [write_site, write_csv])
@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_an_impossible_number_is_never_written(
    tmp_path: Path, write: Callable[[SiteDocument, Path], None], value: float
) -> None:
    raceways = (Raceway(code="W", from_enclosure="A", to_enclosure="B", length_m=value),)
    with pytest.raises(OutOfRangeError) as caught:
        write(SiteDocument(raceways=raceways), tmp_path / "site")
    assert str(caught.value) == f"A value to be written is {value:g} m; it must be finite."
    assert list(tmp_path.iterdir()) == []


def test_half_a_surrogate_pair_is_never_written(tmp_path: Path) -> None:
    document = SiteDocument(site=SiteFacts(name="\ud800"))
    with pytest.raises(FileWriteError, match=r"half a surrogate pair \(U\+D800\)"):
        write_site(document, tmp_path / "site.json")
    assert list(tmp_path.iterdir()) == []


def test_a_link_stays_and_leads_to_the_new_file(tmp_path: Path) -> None:
    file, link = tmp_path / "site.json", tmp_path / "link.json"
    file.write_text(OLD)
    link.symlink_to(file)
    write_site(MILL, link)
    assert link.is_symlink()
    assert file.read_text(encoding="utf-8") == TEXT


def test_a_device_is_written_to_not_replaced() -> None:
    null = Path("/dev/null")
    if not null.is_char_device():
        pytest.skip("no /dev/null here")
    write_site(MILL, null)
    assert null.is_char_device()


def test_a_closed_pipe_is_the_callers_business() -> None:
    class Closed(io.StringIO):
        def write(self, _: str) -> int:
            raise BrokenPipeError

    with pytest.raises(BrokenPipeError):
        write_site(MILL, Closed())


def test_a_stream_that_is_full_is_named() -> None:
    class Full(io.StringIO):
        name = "<stdout>"

        def write(self, _: str) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(FileWriteError, match="<stdout> can't be written: No space left on device"):
        write_site(MILL, Full())


def test_the_file_changes_by_one_rename_after_all_of_the_text_is_on_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file, done = tmp_path / "site.json", []
    file.write_text(OLD)
    real_sync, real_replace = os.fsync, Path.replace

    def synced(handle: int) -> None:
        done.append("sync")
        assert file.read_text() == OLD or "replace" in done
        real_sync(handle)

    def replaced(source: Path, target: Any) -> Path:
        done.append("replace")
        assert source.read_text(encoding="utf-8") == TEXT
        return real_replace(source, target)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(Path, "replace", replaced)
    write_site(MILL, file)
    assert done == ["sync", "replace", "sync"]


def test_counterparts_that_are_tags_are_written_as_people_read_them() -> None:
    reading = Reading(
        kind="insulation",
        subject="PVMP01P",
        against="PVMP02N",
        value="550M",
        number=5.5e8,
        unit="ohm",
    )
    stream = io.StringIO()
    write_site(SiteDocument(readings=(reading,)), stream)
    (row,) = json.loads(stream.getvalue())["readings"]
    assert (row["subject"], row["against"]) == ("PVM-P01P", "PVM-P02N")
