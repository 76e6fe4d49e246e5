# SPDX-License-Identifier: MIT
"""Quantities: exact about prefixes and about what is refused.

The factors of the prefixes are those of the SI brochure, 9th edition, table 7; a foot is 0.3048 m
and an inch 25.4 mm by the international agreement of 1959.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.electrical.quantities import (
    parse_capacitance,
    parse_current,
    parse_degrees,
    parse_length_m,
    parse_resistance,
    parse_resistance_ohm,
    parse_resolution,
    parse_temperature,
    parse_voltage,
)
from wiretrack.electrical.quantity_text import (
    exact_text,
    format_length,
    format_measured,
    format_number,
    format_resistance,
    format_voltage,
    own_length,
)
from wiretrack.errors import AmbiguousError, BadInputError, OutOfRangeError, QuantityError
from wiretrack.manner import Manner, use
from wiretrack.readings import parse_reading

if TYPE_CHECKING:
    from collections.abc import Callable
    from decimal import Decimal

OHMS = [
    ("0.42", 0.42), ("0.42ohm", 0.42), ("0.42 Ω", 0.42), ("420m", 0.42), ("420 mΩ", 0.42),
    ("420 m\N{OHM SIGN}", 0.42), ("1.2k", 1200.0), ("1.2 kohm", 1200.0), ("500 Mohm", 5e8),
    ("2 megohms", 2e6), ("2 milliohm", 2e-3), ("3 \u00b5Ω", 3e-6), ("3 \u03bcΩ", 3e-6),
    ("3uohm", 3e-6),
    ("2.2M", 2.2e6), ("2,2M", 2.2e6), ("0,3", 0.3), ("0,300", 0.3), (",5", 0.5), ("1,20", 1.2),
    ("1,234.5", 1234.5), ("1.234,5", 1234.5), ("1,234,567", 1234567.0), ("1,5e3", 1500.0),
    ("0.42R", 0.42), ("47R", 47.0), ("4K7", 4700.0), ("4k7", 4700.0), ("R47", 0.47),
    ("0R42", 0.42), ("2M2", 2.2e6), ("1G5", 1.5e9),
    ("1G", 1e9), ("1.5e3", 1500.0), (".5", 0.5), ("5.", 5.0), ("+5", 5.0), ("0", 0.0),
]  # fmt: skip
LENGTHS = [
    ("104 ft", 31.6992), ("31.7m", 31.7), ("64 m", 64.0), ("250 cm", 2.5), ("2 in", 0.0508),
    ("3/4 in", 0.01905), ("1-1/4 in", 0.03175), ("5 ft 6 in", 1.6764), ("5'6\"", 1.6764),
    ("12' 6\"", 3.81), ("12'6", 3.81), ("12 ft 6 in", 3.81), ("12′ 6″", 3.81), ("12'-6\"", 3.81),
    ("12' 6 1/2\"", 3.8227), ("12'6 1/2", 3.8227), ('6"', 0.1524), ("6″", 0.1524), ("12'", 3.6576),
    ("0,3 m", 0.3), ("12,5 ft", 3.81), ("1,200.5 m", 1200.5),
    ("1.2 km", 1200.0), ("5 mm", 0.005), ("5’ 6″", 1.6764), ("10 yd", 9.144),
]  # fmt: skip


@pytest.mark.parametrize(("text", "ohms"), OHMS)
def test_m_is_milli_and_capital_m_is_mega_in_a_resistance(text: str, ohms: float) -> None:
    assert parse_resistance(text).number == ohms
    assert parse_resistance_ohm(text) == ohms


@pytest.mark.parametrize(("text", "metres"), LENGTHS)
def test_a_bare_m_after_a_length_is_metres(text: str, metres: float) -> None:
    assert parse_length_m(text) == metres


@pytest.mark.parametrize(
    ("text", "volts"),
    [
        ("-412V", -412.0),
        ("400 V", 400.0),
        ("1.5 kV", 1500.0),
        ("\u2212412 V", -412.0),
        ("- 5", -5.0),
        ("240V", 240.0),
        ("-412,5 V", -412.5),
    ],
)
def test_a_voltage_keeps_its_sign_whatever_the_minus(text: str, volts: float) -> None:
    assert parse_voltage(text) == volts
    assert parse_reading("voltage", text).number == volts


@pytest.mark.parametrize(
    ("text", "celsius"),
    [("20 C", 20.0), ("-5", -5.0), ("68 F", 20.0), ("20 °C", 20.0), ("20\u2103", 20.0)],
)
def test_a_temperature_is_in_celsius_unless_it_says_fahrenheit(text: str, celsius: float) -> None:
    assert parse_temperature(text) == celsius


def test_other_quantities_are_read_in_their_unit() -> None:
    assert parse_current("500 mA") == 0.5
    assert parse_degrees("180°") == 180
    assert parse_resolution("0.01 ohm") == (0.01, "ohm")
    assert parse_resolution("0.1 V") == (0.1, "V")
    assert parse_length_m("64", default_unit="m") == 64


@pytest.mark.parametrize("text", ["OL", "ol", "0L", "O.L", ".OL", "OL MΩ", "0.L"])
def test_an_over_range_display_without_a_bound_has_no_number(text: str) -> None:
    measured = parse_resistance(text)
    assert measured.over_range
    assert measured.number is None


@pytest.mark.parametrize(
    "text", [">2000M", "> 2000 MΩ", ">=2000M", "≥2 Gohm", ">2 G", ">2G", ">2,0G"]
)
def test_a_greater_sign_makes_a_bound_of_the_number(text: str) -> None:
    measured = parse_resistance(text)
    assert (measured.number, measured.over_range) == (2e9, True)


REFUSED = [
    "", " ", "nan", "NaN", "inf", "-inf", "0x10", "1e400", "1e-400", "--5", "+-5", "-+5",
    "5,", "1,2,3", "1,,2",
    "1 000", "1_000", "5 V", "5 A", "5 mV", "5 kg", "<0.1", "½", "٣", "5 ohm 3", "five", "=1+1",
    "\x1b[31m5", "1" * 500, "5\x00", "OLX", "5 Mm", "5mm", "4m7", "4k7k", "4 k7", "1.234.567",
]  # fmt: skip


@pytest.mark.parametrize("text", REFUSED)
def test_what_is_no_resistance_is_refused_in_one_printable_line(text: str) -> None:
    with pytest.raises(BadInputError) as caught:
        parse_resistance(text)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    "text",
    [
        "",
        "64",
        "0 m",
        "-3 m",
        "5 ohm",
        "1/0 in",
        "1e9 km",
        "nan m",
        "5 ft 6",
        "5 M",
        "m",
        "12'6m",
        "'6",
        "1,2,3 m",
        "12'6''",
    ],
)
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(BadInputError):
        parse_length_m(text)


@pytest.mark.parametrize(
    ("parse", "text", "readings"),
    [
        (parse_resistance, "1,200", ("1.200", "1200")),
        (parse_resistance, ">1,200 M", (">1.200 M", ">1200 M")),
        (parse_voltage, "-1,200V", ("-1.200V", "-1200V")),
        (parse_length_m, "12,345 m", ("12.345 m", "12345 m")),
        (parse_length_m, "1,200' 6\"", ("1.200' 6\"", "1200' 6\"")),
    ],
)
def test_a_comma_that_may_be_either_sign_names_both_readings(
    parse: Callable[[str], object], text: str, readings: tuple[str, str]
) -> None:
    with pytest.raises(AmbiguousError) as caught:
        parse(text)
    assert caught.value.choices == readings
    assert str(caught.value).endswith(f" in two ways. Write {' or '.join(readings)}.")
    one, other = map(parse, readings)
    assert one != other


@given(st.decimals("0.001", "99999", places=3))
def test_a_decimal_comma_reads_as_the_point_or_both_readings_are_named(number: Decimal) -> None:
    written = f"{number:f}"
    comma = written.replace(".", ",")
    if 1 <= number < 1000:
        with pytest.raises(AmbiguousError) as caught:
            parse_voltage(comma)
        assert caught.value.choices == (written, written.replace(".", ""))
    else:
        assert parse_voltage(comma) == float(number)


# Each way in which a value is shown to people, how it is typed again, and how exact that is.
SHOWN = [
    (format_resistance, parse_resistance_ohm, 5e-3, (0.0, 1e12)),
    (lambda ohms: format_resistance(ohms, 5), parse_resistance_ohm, 5e-5, (0.0, 1e12)),
    (format_voltage, parse_voltage, 5e-4, (-1e6, 1e6)),
    (lambda a: format_number(a, "A"), parse_current, 5e-4, (-1e5, 1e5)),
    (lambda c: format_number(c, "°C"), parse_temperature, 5e-4, (-100.0, 400.0)),
    (lambda m: own_length(m), parse_length_m, 5e-3, (1e-3, 1e5)),
]  # fmt: skip


@pytest.mark.parametrize(("show", "parse", "relative", "limits"), SHOWN)
@given(data=st.data())
def test_what_is_shown_can_be_typed_again(
    show: Callable[[float], str], parse: Callable[[str], float], relative: float,
    limits: tuple[float, float], data: st.DataObject,
) -> None:  # fmt: skip
    drawn = data.draw(st.floats(*limits, allow_subnormal=False))
    value = drawn if abs(drawn) > 1e-6 else 0.0  # no instrument shows less
    text = show(value)
    assert parse(text) == pytest.approx(value, rel=relative, abs=1e-9)
    assert show(parse(text)) == text


def test_a_refusal_says_what_is_wrong_and_how_to_write_it() -> None:
    with pytest.raises(QuantityError) as comma:
        parse_resistance("0,42,1")
    assert str(comma.value) == (
        "'0,42,1' is not a resistance: a comma stands where none can. "
        "Write it like 0.42, 420m, 1.2k, 0.42 ohm, >2000M or OL."
    )
    with pytest.raises(OutOfRangeError) as zero:
        parse_length_m("0 m")
    assert str(zero.value) == "Length is 0 m; it must be above 0 m and at most 100 km."
    with pytest.raises(BadInputError) as kind:
        parse_reading("smell", "1")
    assert "continuity, insulation, voltage, loop" in str(kind.value)


def test_a_negative_resistance_is_refused_with_its_likely_cause() -> None:
    with pytest.raises(OutOfRangeError) as caught:
        parse_reading("continuity", "-0.1")
    assert "voltage present" in str(caught.value)


def test_the_last_digit_typed_is_the_step_of_the_display() -> None:
    assert parse_resistance("0.30").step == 0.01
    assert parse_resistance("420m").step == 0.001
    assert parse_resistance("500 M").step == 1e6


@given(st.floats(min_value=1e-3, max_value=9e4, allow_nan=False))
def test_a_length_written_exactly_reads_back_as_the_very_same_number(length_m: float) -> None:
    assert parse_length_m(exact_text(length_m, "m")) == length_m


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused_in_printable_words(text: str) -> None:
    for parse in (parse_length_m, parse_resistance, parse_voltage, parse_temperature):
        message = ""
        try:
            parse(text)
        except BadInputError as error:
            message = str(error)
        assert message.isprintable()


def test_quantities_are_shown_in_the_prefix_that_reads_best() -> None:
    assert format_resistance(0.2457) == "0.246 Ω"
    assert format_resistance(0.0012) == "1.2 mΩ"
    assert format_resistance(1e6) == "1 MΩ"
    assert format_resistance(999_999) == "1 MΩ"
    assert format_resistance(0) == "0 Ω"
    assert format_voltage(-412) == "-412 V"
    assert format_voltage(15_000) == "15 kV"
    assert format_number(9.5, "A") == "9.5 A"
    assert format_length(31.6992) == "31.7 m (104 ft)"
    assert format_number(20, "°C") == "20 °C"
    assert format_number(0.5, "ohm") == "0.5 Ω"
    assert format_number(400, "V") == "400 V"
    assert format_number(40, "%") == "40 %"


def test_readings_are_shown_as_the_display_showed_them() -> None:
    assert format_measured(parse_resistance("OL")) == "OL"
    assert format_measured(parse_resistance(">2000M")) == ">2000 MΩ"
    assert format_measured(parse_reading("voltage", "-412V")) == "-412 V"


@pytest.mark.parametrize(
    ("units", "length_m", "shown"),
    # 1 ft = 0.3048 m, by definition: 169 ft = 51.5112 m; 1234.5 ft = 376.2756 m.
    [("m", 51.5112, "51.5 m (169 ft)"), ("ft", 51.5112, "169 ft (51.5 m)"),
     (None, 51.5112, "51.5 m (169 ft)"), ("ft", 376.2756, "1234 ft (376 m)"),
     ("m", 0.0254, "0.0254 m (0.0833 ft)")],
)  # fmt: skip
def test_a_length_begins_with_the_unit_of_the_site(
    units: str | None, length_m: float, shown: str
) -> None:
    use(Manner(units=units))
    assert format_length(length_m) == shown
    assert own_length(length_m) == shown.partition(" (")[0]


@pytest.mark.parametrize(
    ("rules", "area_mm2", "shown"),
    # ASTM B258: 10 AWG is 5.261 mm², 8 AWG 8.367 mm²; 1 kcmil is 0.506707 mm².
    [("NEC", 5.261, "10 AWG (5.261 mm²)"), ("NEC", 8.37, "8 AWG (8.37 mm²)"),
     ("NEC", 9.4, "18.6 kcmil (9.4 mm²)"), ("NEC", 126.68, "250 kcmil (126.7 mm²)"),
     ("IEC", 5.261, "5.261 mm²"), (None, 4, "4 mm²")],
)  # fmt: skip
def test_a_size_under_the_nec_never_stands_in_mm2_alone(
    rules: str | None, area_mm2: float, shown: str
) -> None:
    use(Manner(rules=rules))
    assert format_number(area_mm2, "mm2") == shown


@pytest.mark.parametrize(
    ("text", "farads"),
    # SI prefixes: pico 1e-12, nano 1e-9, micro 1e-6.
    [("470 pF", 470e-12), ("3.2nF", 3.2e-9), ("0.01 uF", 1e-8), ("0.01 µF", 1e-8)],
)
def test_capacitances_are_read_with_their_prefixes(text: str, farads: float) -> None:
    assert parse_capacitance(text).number == pytest.approx(farads)


@pytest.mark.parametrize("text", ["3.2", "3.2 n", "3.2 nH", "-1 nF", "OL"])
def test_what_is_no_capacitance_is_refused(text: str) -> None:
    with pytest.raises(BadInputError):
        parse_capacitance(text)
