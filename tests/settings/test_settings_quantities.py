"""Quantities: every accepted way to write one, every refused one, and the way back."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.settings.schema.quantities import (
    KINDS,
    QuantityError,
    number_text,
    plain_key,
    read_quantity,
    shown,
)

GOOD = [
    ("temperature", "26 °C", 26.0),
    ("temperature", "26°C", 26.0),
    ("temperature", "26 C", 26.0),
    ("temperature", "26C", 26.0),
    ("temperature", "26\u00a0°C", 26.0),
    ("temperature", "26\u202f°C", 26.0),
    ("temperature", "26 ºC", 26.0),
    ("temperature", "26 ˚C", 26.0),
    ("temperature", "−5 °C", -5.0),
    ("temperature", "-0.5 °C", -0.5),
    ("temperature", "+3 °C", 3.0),
    ("temperature", " 26 °C ", 26.0),
    ("temperature", "79 F", 47.0 / 1.8),
    ("temperature", "79 °F", 47.0 / 1.8),
    ("temperature", "32 °F", 0.0),
    ("temperature", "-40 °F", -40.0),
    ("difference", "5 K", 5.0),
    ("difference", "5 °C", 5.0),
    ("difference", "9 °F", 5.0),
    ("difference", "9 F", 5.0),
    ("duration", "200 ms", 0.2),
    ("duration", "45 s", 45.0),
    ("duration", "10 min", 600.0),
    ("duration", "10min", 600.0),
    ("duration", "6 h", 21600.0),
    ("duration", "7 d", 604800.0),
    ("power", "150 W", 150.0),
    ("power", "1.2 kW", 1200.0),
    ("air flow", "0.35 m3/s", 0.35),
    ("air flow", "0.35 m³/s", 0.35),
    ("air flow", ".35 m3/s", 0.35),
    ("air flow", "360 m3/h", 0.1),
    ("air flow", "300 L/s", 0.3),
    ("air flow", "300 l/s", 0.3),
    # 1000 cfm = 0.471947 m3/s: NIST Special Publication 811 (2008), appendix B.9.
    ("air flow", "1000 cfm", 0.4719474),
    ("air flow", "1000 CFM", 0.4719474),
    ("water flow", "2 L/s", 0.002),
    ("water flow", "120 L/min", 0.002),
    ("water flow", "120 l/min", 0.002),
    ("water flow", "7.2 m3/h", 0.002),
    # One US gallon a minute = 6.309020e-5 m3/s: the same table.
    ("water flow", "30 gpm", 1.892706e-3),
    ("water flow", "30 GPM", 1.892706e-3),
    ("length", "80 mm", 0.08),
    ("length", "8 cm", 0.08),
    ("length", "4 in", 0.1016),
    ("length", "9 m", 9.0),
    ("length", "30 ft", 9.144),
    ("volume", "60 L", 0.06),
    ("volume", "60 l", 0.06),
    ("volume", "0.06 m3", 0.06),
    # One US gallon = 3.785412e-3 m3: the same table.
    ("volume", "20 gal", 0.07570824),
    ("light", "300 W/m2", 300.0),
    ("light", "300 W/m²", 300.0),
    ("light", "0.3 kW/m2", 300.0),
    ("rate of rise", "6 K/min", 0.1),
    ("rate of rise", "6 °C/min", 0.1),
    ("rate of rise", "6 C/min", 0.1),
    ("rate of rise", "9 °F/min", 5.0 / 60.0),
    ("rate of rise", "9 F/min", 5.0 / 60.0),
]

BAD = [
    ("temperature", 26, '26 has no unit; write for example "26 °C"'),
    ("temperature", 26.5, '26.5 has no unit; write for example "26 °C"'),
    ("temperature", "26", '"26" has no unit; write for example "26 °C"'),
    ("temperature", True, 'true is not a quantity; write for example "26 °C"'),
    ("temperature", ["26 °C"], "a list is not a quantity; write"),
    ("temperature", "26,5 °C", '"26,5 °C" has a comma in the number; expected a point'),
    ("power", "1,200 W", "has a comma in the number; expected a point"),
    (
        "temperature",
        "299 K",
        '"299 K" is in K, which is for differences between temperatures, and this is a temperature; expected',
    ),
    ("temperature", "26 m", 'has the unit "m", which is not one for this temperature; expected °C or °F'),
    ("temperature", "26 °C\nor so", '"26 °C?or so" has the unit "°C?or so", which is not one for this temp'),
    ("difference", "5 W", "expected K, °C or °F"),
    ("duration", "10 minutes", "expected s, min, h, d or ms"),
    (
        "duration",
        "1 h 20 min",
        '"1 h 20 min" is more than one number with one unit; expected s, min, h, d or ms',
    ),
    ("power", "150 w", '"150 w" has the unit "w" (did you mean "W"?); expected W or kW'),
    ("power", "1 KW", 'did you mean "kW"?'),
    ("duration", "5 S", 'did you mean "s"?'),
    (
        "air flow",
        "0.3 m3",
        '"0.3 m3" has the unit "m3", which is not one for this air flow; expected m3/s, m3/h, L/s or cfm',
    ),
    ("temperature", "warm", '"warm" does not start with a number; write for example "26 °C"'),
    ("temperature", "", "does not start with a number"),
    ("temperature", "°C 26", "does not start with a number"),
    ("temperature", "nan °C", "does not start with a number"),
    ("temperature", "inf °C", "does not start with a number"),
    ("temperature", "-inf °C", "does not start with a number"),
    ("temperature", "1e999 °C", '"1e999 °C" is larger than any number that can be worked with'),
    ("temperature", "1_0 °C", "expected °C or °F"),
    ("temperature", "٢٦ °C", "does not start with a number"),
    ("temperature", float("nan"), "has no unit"),
    ("temperature", None, "is not a quantity"),
]


@pytest.mark.parametrize(("kind", "written", "si"), GOOD)
def test_a_quantity_becomes_si(kind, written, si):
    """Each accepted spelling gives the SI number to the digits of the published conversion."""
    assert read_quantity(kind, written).si == pytest.approx(si, rel=2e-7, abs=1e-12)


@pytest.mark.parametrize(("kind", "written", "words"), BAD)
def test_a_bad_quantity_is_refused_with_what_was_expected(kind, written, words):
    """Whatever is not a quantity of this kind is refused, and the message says what to write instead."""
    with pytest.raises(QuantityError, match=re.escape(words)):
        read_quantity(kind, written)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("x" * 38, f'"{"x" * 38}"'),
        ("x" * 39, f'"{"x" * 39}…'),
        (10**15, "1000000000000000"),
        (10**15 + 1, "a huge number"),
        (-(10**15), "-1000000000000000"),
        (True, "true"),
        (False, "false"),
        (1e300, "1e+300"),
    ],
)
def test_a_value_is_quoted_up_to_forty_signs(value, text):
    """A quoted value takes at most forty signs, a number at most fifteen digits, and truth is TOML's own."""
    assert shown(value) == text


def test_a_number_is_told_to_six_digits_in_the_unit_that_was_written():
    """A limit of whole SI numbers is not told in digits without end where somebody writes in another unit."""
    assert number_text(2 / 3) == "0.666667"
    assert number_text(1234567.0) == "1.23457e+06"
    assert read_quantity("temperature", "50 °F").text_of(26.0) == "78.8 °F"
    assert read_quantity("air flow", "100 cfm").text_of(1 / 3) == "706.293 cfm"


EVERY_UNIT = [(kind, unit) for kind, known in KINDS.items() for unit in known.units]


@settings(deadline=None)
@given(st.sampled_from(EVERY_UNIT), st.floats(min_value=-1e6, max_value=1e6).filter(lambda x: abs(x) > 1e-6))
def test_every_unit_finds_its_way_back(kind_and_unit, value):
    """Writing a number in any unit, reading it and expressing it in that unit again gives the same number."""
    kind, unit = kind_and_unit
    read = read_quantity(kind, f"{value!r} {unit.name}")
    assert read.unit == unit
    tolerance = 1e-9 * max(abs(value), abs(unit.zero / unit.factor))
    assert math.isclose(read.unit.from_si(read.si), value, rel_tol=1e-9, abs_tol=tolerance)


@settings(deadline=None)
@given(st.floats(min_value=-90.0, max_value=200.0))
def test_both_unit_systems_mean_the_same_temperature(value_c):
    """A temperature written in °F is the one written in °C."""
    in_fahrenheit = read_quantity("temperature", f"{value_c * 1.8 + 32.0!r} °F").si
    assert math.isclose(
        in_fahrenheit, read_quantity("temperature", f"{value_c!r} °C").si, rel_tol=1e-9, abs_tol=1e-9
    )


@settings(deadline=None)
@given(
    st.sampled_from(sorted(KINDS)), st.one_of(st.text(), st.integers(), st.floats(), st.none(), st.booleans())
)
def test_anything_else_is_refused_politely(kind, written):
    """Whatever is written gives a finite number or a QuantityError in one line, never another error."""
    try:
        si = read_quantity(kind, written).si
    except QuantityError as trouble:
        assert str(trouble).isprintable()  # noqa: PT017 - both outcomes are right, and each has its check
    else:
        assert math.isfinite(si)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_example_of_a_message_is_good_itself(kind):
    """What a message asks people to write is accepted."""
    assert math.isfinite(read_quantity(kind, KINDS[kind].example).si)


@pytest.mark.parametrize(
    ("attribute", "key"),
    [
        ("heat_below_c", "heat_below"),
        ("air_deadband_k", "air_deadband"),
        ("flow_m3_s", "flow"),
        ("sump_volume_m3", "sump_volume"),
        ("rise_k_s", "rise"),
        ("rise_for_s", "rise_for"),
        ("power_w", "power"),
        ("depth_m", "depth"),
        ("fan_pin", "fan_pin"),
        ("starts_per_hour", "starts_per_hour"),
    ],
)
def test_the_key_is_the_attribute_without_its_unit(attribute, key):
    """In the file the value carries the unit, so the key does not."""
    assert plain_key(attribute) == key


def test_a_quoted_value_never_breaks_the_line_or_floods_it():
    """Line breaks, terminal codes and endless texts are tamed before a message quotes them."""
    assert shown("a\nb\x1b[2Jc") == '"a?b?[2Jc"'
    assert len(shown("x" * 1000)) < 50
    assert shown(10**4500) == shown(-(10**4500)) == "a huge number"
