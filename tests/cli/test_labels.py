# SPDX-License-Identifier: MIT
"""Every kind of label from the command line, and what is said of bad input."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import zxingcpp
from PIL import Image

from tests.pdf import page_sizes_pt, pictures
from tests.pump import L1, L2, PE

if TYPE_CHECKING:
    from tests.cli.conftest import Wiretrack

FLAG, FLAT, CARD, STRIP = "flag-70x16-300", "flat-50x25-300", "flat-180x130-a4", "flat-200x9-300"
RED = "flat-130x50-red"
MM_PER_IN = 25.4
PRINTED = "printed, not yet on"


def texts_in(file: Path) -> list[str]:
    with Image.open(file) as picture:
        return [code.text for code in zxingcpp.read_barcodes(picture.convert("L"))]


def ink_across(file: Path) -> int:
    """How many dots wide a PDF's first page has ink, drawn at 300 dpi."""
    box = pictures(file, 300)[0].point(lambda level: 255 * (level < 128)).getbbox()
    assert box is not None
    return box[2] - box[0]


def land_far_ends(wiretrack: Wiretrack) -> None:
    """Land the far ends, so that it is known which is which; their labels say the box alone."""
    for number, tag in enumerate((L1, L2, PE), 1):
        assert (
            wiretrack("land", tag, "PH1", "--terminal", f"TB1:{number}", "--new-terminal").status
            == 0
        )


def stock_file(folder: Path, **changes: Any) -> Path:
    stock = {
        "name": "mine", "form": "flat", "width_mm": 50, "height_mm": 25, "dpi": 300,
        "roll": {"gap_mm": 3},
    }  # fmt: skip
    stock |= changes
    if "sheet" in changes:
        del stock["roll"]
    file = folder / "stocks.json"
    file.write_text(json.dumps({"format": "wiretrack-stocks/1", "stocks": [stock]}), "utf-8")
    return file


# --- kinds ---------------------------------------------------------------------------------------


def test_a_box_card_leads_back_to_its_box(wiretrack: Wiretrack, tmp_path: Path) -> None:
    out = tmp_path / "card.png"
    args = ("label", "print", "ph1", "--kind", "box-card", "--stock", CARD, "--out", out)
    done = wiretrack(*args, "--json")
    assert (done.status, done.json["labels"], done.json["proofread"]) == (0, 1, 1)
    assert texts_in(out) == ["WT:BOX/PH1"]
    (found,) = wiretrack("scan", out, "--json").json
    assert (found["payload"], found["tag"], found["enclosure"]) == ("WT:BOX/PH1", None, "PH1")
    assert {end["tag"] for end in found["record"]["ends"]} == {
        f"{tag[:3]}-{tag[3:]}" for tag in (L1, L2, PE)
    }
    assert "pump box" in wiretrack("scan", out).out


def test_a_box_that_is_not_of_this_site_is_said_to_be_so(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    picture = tmp_path / "other.png"
    code = zxingcpp.create_barcode("WT:BOX/ATTIC", zxingcpp.BarcodeFormat.QRCode)
    Image.fromarray(zxingcpp.write_barcode_to_image(code, scale=6)).save(picture)
    (found,) = wiretrack("scan", picture, "--json").json
    assert (found["enclosure"], found["record"]) == ("ATTIC", None)
    assert "ATTIC is not in" in wiretrack("scan", picture).words


def test_a_plate_names_a_box_and_carries_its_code(wiretrack: Wiretrack, tmp_path: Path) -> None:
    out = tmp_path / "plate.png"
    args = ("--kind", "plate", "--stock", FLAT, "--out", out, "--json")
    assert wiretrack("label", "print", "MDB", *args).json["labels"] == 1
    assert texts_in(out) == ["WT:BOX/MDB"]
    ran = wiretrack("label", "print", "MDB/Q9", *args)
    assert (ran.status, "No device in MDB is called 'Q9'" in ran.err) == (2, True)


def test_a_terminal_strip_keeps_the_pitch(wiretrack: Wiretrack, tmp_path: Path) -> None:
    args = ("label", "print", "MDB", "--kind", "terminal-strip", "--stock", STRIP)
    out = tmp_path / "strip.pdf"
    given = ("--pitch", "6 mm", "--terminals", "1,2,,4,5", "--out", out, "--json")
    assert wiretrack(*args, *given).json["labels"] == 1
    # Six rules bound five places: five pitches from the first to the last.
    assert ink_across(out) / 300 * MM_PER_IN == pytest.approx(5 * 6, abs=0.3)
    recorded = wiretrack(*args, "--pitch", "10 mm", "--out", out, "--json").json
    assert recorded["labels"] == 2  # block Q4 with two terminals, and PE
    ran = wiretrack(*args, "--out", out)
    assert (ran.status, "pitch isn't known" in ran.err) == (2, True)
    ran = wiretrack(*args, "--pitch", "0.5 mm", "--out", out)
    assert (ran.status, "Terminals' pitch is 0.5 mm" in ran.err) == (2, True)


def test_pull_numbers_are_for_both_ends_and_are_no_labels(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    out = tmp_path / "numbers.pdf"
    args = ("label", "print", "P1", "--kind", "pull-numbers", "--stock", FLAG, "--out", out)
    assert wiretrack(*args, "--json").json["labels"] == 6
    assert len(wiretrack("label", "due", "P1", "--json").json) == 6


def test_without_a_code_that_demands_markings_there_are_none(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    args = ("--kind", "marking", "--stock", RED, "--out", tmp_path / "m.pdf")
    ran = wiretrack("label", "print", "W1", *args)
    assert ran.status == 2
    assert ran.err == "error: No marking is required here by the rules of this site.\n"


# --- labels that are due -------------------------------------------------------------------------


def test_an_end_is_due_until_it_is_labelled_and_again_when_it_moves(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    out = tmp_path / "labels.pdf"
    due = wiretrack("label", "due", L1, "--json").json
    assert [(row["end"], row["why"]) for row in due] == [("from", "no label"), ("to", "no label")]
    wiretrack("label", "print", "P1", "--stock", FLAG, "--out", out)
    assert {row["why"] for row in wiretrack("label", "due", "--json").json} == {PRINTED}
    land_far_ends(wiretrack)
    wiretrack("label", "placed", "P1")
    assert wiretrack("label", "due", "--json").json == []
    assert "Every label is on and true." in wiretrack("label", "due").out

    wiretrack("land", L1, "MDB", "--terminal", "Q5:1", "--new-terminal")
    due = wiretrack("label", "due", "--json").json
    assert [(row["end"], row["why"]) for row in due] == [
        ("from", "label no longer true"),
        ("to", "label no longer true"),  # it names the other end too
    ]
    assert due[0]["detail"] == "this end: it says MDB Q4:1, the record MDB Q5:1"
    shown = wiretrack("show", L1, "--json").json["ends"]
    assert [end["labelled"] for end in shown] == [False, False]
    assert "Q4:1" in shown[0]["label_untrue"]
    assert "no longer true" in wiretrack("show", L1).out
    open_points = wiretrack("punchlist", "--json").json
    assert [r["subject"] for r in open_points if r["what"] == "label no longer true"] == [
        f"{L1[:3]}-{L1[3:]}"
    ] * 2

    done = wiretrack("label", "print", "--due", "--stock", FLAG, "--out", out, "--json").json
    assert done["labels"] == 2
    assert len(wiretrack("label", "due", "--json").json) == 2  # the old ones are still on
    wiretrack("label", "placed", L1)
    assert wiretrack("label", "due", "--json").json == []
    done = wiretrack("label", "print", "--due", "--stock", FLAG, "--out", out, "--json").json
    assert (done["labels"], done["file"]) == (0, None)


def test_a_short_label_stays_true_when_only_the_other_end_moves(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    args = ("--stock", FLAG, "--contents", "short", "--out", tmp_path / "l.pdf")
    wiretrack("label", "print", L1, *args)
    land_far_ends(wiretrack)
    wiretrack("label", "placed", L1)
    wiretrack("land", L1, "MDB", "--terminal", "Q5:1", "--new-terminal")
    due = wiretrack("label", "due", L1, "--json").json
    assert [row["end"] for row in due] == ["from"]


def test_labels_whose_code_leads_elsewhere_are_due(wiretrack: Wiretrack, tmp_path: Path) -> None:
    out = ("--stock", FLAG, "--out", tmp_path / "l.pdf")
    assert "4 codes read back; " in wiretrack("label", "print", L1, *out).out
    assert "No QR code; " in wiretrack("label", "print", L2, "--text-only", *out).out
    land_far_ends(wiretrack)
    for tag in (L1, L2):
        wiretrack("label", "placed", tag)
    wiretrack("label", "address", "wires.lan")
    due = wiretrack("label", "due", "P1", "--json").json
    untrue = {row["tag"] for row in due if row["why"] == "label no longer true"}
    assert untrue == {f"{L1[:3]}-{L1[3:]}"}  # a legend without a code says nothing of it


def test_the_print_log_is_left_alone_and_loads_again(wiretrack: Wiretrack, tmp_path: Path) -> None:
    wiretrack("label", "print", L1, "--stock", FLAG, "--out", tmp_path / "l.pdf")
    first = wiretrack("dump").json
    wiretrack("label", "due")
    wiretrack("label", "preview", L1, "--stock", FLAG)
    assert wiretrack("dump").json == first
    assert [row["form"] for row in first["label_prints"]] == ["flag", "flag"]
    assert not [row for row in first["changes"] if row["what"] == "label_prints"]


# --- preview, calibration and stocks -------------------------------------------------------------


def test_a_preview_shows_labels_here_and_as_a_picture(wiretrack: Wiretrack, tmp_path: Path) -> None:
    out = tmp_path / "seen.png"
    ran = wiretrack("label", "preview", "P1", "--stock", FLAG, "--most", "2", "--out", out)
    assert ran.status == 0
    assert "⣿" in ran.out
    assert "4 more aren't shown" in ran.out
    assert sorted(set(texts_in(out))) == [f"WT:{L1}"]
    assert len(wiretrack("label", "due", "P1", "--json").json) == 6
    with Image.open(out) as picture:
        # Two labels of 70 x 16 mm with 2 mm of grey round each.
        size = (74 / MM_PER_IN * 300, (2 * 16 + 3 * 2) / MM_PER_IN * 300)
        assert picture.size == pytest.approx(size, abs=4)


def test_a_measured_offset_is_kept_and_taken_back(wiretrack: Wiretrack, tmp_path: Path) -> None:
    page, mine = tmp_path / "page.pdf", tmp_path / "mine.json"
    stock = "flag-90x25-a4"
    stated = wiretrack("label", "calibrate", "--stock", stock, "--out", page, "--json").json
    a4_pt = (210 / MM_PER_IN * 72, 297 / MM_PER_IN * 72)  # ISO 216
    assert page_sizes_pt(page) == [pytest.approx(a4_pt, abs=0.01)]
    measured = [f"{stated[key] + off} mm" for key, off in (("cross_x_mm", 2), ("cross_y_mm", -1.5))]
    args = ("--measured-x", measured[0], "--measured-y", measured[1], "--save", mine, "--json")
    kept = wiretrack("label", "calibrate", "--stock", stock, *args).json
    assert (kept["offset_x_mm"], kept["offset_y_mm"]) == (2, -1.5)
    places = []
    for more in ((), ("--stocks", mine)):
        out = tmp_path / "labels.png"
        wiretrack("label", "print", L1, "--stock", stock, "--out", out, *more)
        with Image.open(out) as picture:
            found = zxingcpp.read_barcodes(picture.convert("L"))
        corner = min(found, key=lambda code: code.position.top_left.x).position.top_left
        places.append((corner.x, corner.y))
    moved = [(b - a) / 300 * MM_PER_IN for a, b in zip(*places, strict=True)]
    assert moved == pytest.approx([-2, 1.5], abs=0.2)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("--measured-x", "104"), "together"),
        (("--measured-x", "900", "--measured-y", "148", "--save", "x.json"), "Offset to the right"),
        (("--measured-x", "long", "--measured-y", "1", "--save", "x.json"), "'long"),
        (("--out", "page.png"), "isn't a .pdf"),
        ((), "Give --out or --printer"),
    ],
)
def test_a_calibration_that_can_not_be_is_refused(
    wiretrack: Wiretrack, given: tuple[str, ...], told: str
) -> None:
    ran = wiretrack("label", "calibrate", "--stock", "flag-90x25-a4", *given)
    assert (ran.status, told in ran.err) == (2, True), ran.err
    assert not Path("x.json").exists()


def test_label_stocks_tells_every_fault_of_a_users_file(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    sheet = {
        "page": "A4", "columns": 2, "rows": 30, "left_mm": 5, "top_mm": 5,
        "pitch_x_mm": 40, "pitch_y_mm": 26,
    }  # fmt: skip
    ran = wiretrack("label", "stocks", "--stocks", stock_file(tmp_path, sheet=sheet))
    assert ran.status == 2
    assert "labels of 50 mm overlap at a pitch of 40 mm" in ran.err
    assert "the labels reach to 784 mm; the A4 page ends at 297 mm" in ran.err
    ran = wiretrack("label", "stocks", "--stocks", stock_file(tmp_path), "--json")
    assert "mine" in {row["name"] for row in ran.json}


# --- bad input -----------------------------------------------------------------------------------


def test_a_label_larger_than_the_page_is_refused(wiretrack: Wiretrack, tmp_path: Path) -> None:
    file, out = stock_file(tmp_path, width_mm=250), tmp_path / "l.pdf"
    args = ("--stocks", file, "--stock", "mine", "--kind", "plate", "--page", "A4", "--out", out)
    ran = wiretrack("label", "print", "MDB", *args)
    assert ran.status == 2
    assert "250 x 25 mm is larger than what A4 leaves" in ran.err
    assert not out.exists()


def test_where_a_host_name_is_too_long_the_length_that_would_do_is_said(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    wiretrack("label", "address", f"{'valley.' * 35}lan")
    low = stock_file(tmp_path, form="flag", width_mm=70, height_mm=10, fold_mm=12)
    args = ("--stocks", low, "--stock", "mine", "--out", tmp_path / "l.pdf")
    ran = wiretrack("label", "print", L1, *args)
    assert ran.status == 2
    assert ran.err.count("\n") == 1
    most = int(ran.err.split("have at most ")[1].split()[0])
    for length, status in ((most, 0), (most + 1, 2)):
        host = "wires.".ljust(length - 1, "h").replace("h" * 60, f"{'h' * 59}.") + "x"
        assert len(host) == length
        wiretrack("label", "address", host)
        assert wiretrack("label", "print", L1, *args).status == status


def test_that_the_legend_may_stand_alone_is_said_with_the_option_for_it(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    land_far_ends(wiretrack)
    mine = ("--stocks", stock_file(tmp_path, height_mm=7))
    hint = "Take a larger stock, or print the legend alone (--text-only)."
    assert hint in wiretrack("label", "fit", L1, "--stock", "mine", *mine).words
    ran = wiretrack("label", "print", L1, "--stock", "mine", *mine, "--out", tmp_path / "l.pdf")
    assert ran.status == 2
    assert ran.err.endswith(f" {hint}\n")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["print", "--stock", FLAG, "--out", "l.pdf"], "Name it, or take --due"),
        (["print", L1, "--stock", FLAG], "Give --out or --printer"),
        (["print", L1, "--stock", FLAG, "--out", "l.txt"], "none of .pdf, .png and .svg"),
        (["print", "MDB", "--due", "--kind", "plate", "--stock", FLAT, "--out", "l.pdf"], "--due"),
        (["print", "P1", "--kind", "box-card", "--stock", CARD, "--out", "l.pdf"], "enclosure"),
        (["print", "MDB", "--kind", "box-card", "--stock", FLAG, "--out", "l.pdf"], "flat stock"),
        (["preview", L1, "--stock", FLAG, "--out", "l.pdf"], "isn't a .png"),
        (["preview", L1, "--stock", FLAG, "--columns", "0"], "1 to 1000"),
    ],
)
def test_bad_input_is_one_line_and_nothing_is_noted(
    wiretrack: Wiretrack, arguments: list[str], told: str, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    ran = wiretrack("label", *arguments)
    assert (ran.status, ran.out) == (2, "")
    assert told in ran.err
    assert ran.err.count("\n") == 1
    assert not list(tmp_path.glob("l.*"))
    assert len(wiretrack("label", "due", "P1", "--json").json) == 6
