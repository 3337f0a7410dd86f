"""Words for what is wrong with the shape of a file."""

from __future__ import annotations

import pytest

from controller.settings.schema import Fans, Loop, Settings, Site
from controller.settings.wording import keys_of, section_at, words_of

SUMPS = "".join(f"[sumps.s{number}]\nfloat_pin = {number}\npump_pin = {number + 9}\n" for number in range(5))


@pytest.mark.parametrize(
    ("text", "key", "message"),
    [
        ("[loops]\nnorth = 3\n", "loops.north", "3 is a value; expected a table [loops.north]"),
        ("fans = true\n", "fans", "true is a value; expected a table [fans]"),
        ("[sumps]\n", "sumps", "is empty; expected at least one [sumps.NAME]"),
        (SUMPS, "sumps", "there are too many; expected at most 4"),
        ("[fans]\n", "site", "this table is missing; expected [site]"),
        (
            "[loops.n]\n",
            "loops.n.depth",
            'is missing: give the depth of the tube axis below the bed surface, as in depth = "0.6 m"',
        ),
        ("[fan]\n", "fan", 'is not a known table; did you mean "fans"?'),
        ("[loops.n]\nfan_pinn = 1\n", "loops.n.fan_pinn", 'is not a known setting; did you mean "fan_pin"?'),
        ("[fans]\npurge = 5\n", "fans.purge", '5 has no unit; write for example "10 min"'),
        ("stagger = 1\n", "stagger", "is not a known table here; it belongs under [fans]"),
        ("[site]\nid = 1\n", "site.id", "is not a known setting here; it belongs under [probes.NAME]"),
        (
            "[site]\nqqqq = 1\n",
            "site.qqqq",
            f"is not a known setting; expected one of {', '.join(keys_of(Site))}",
        ),
        ("qqqq = 1\n", "qqqq", f"is not a known table; expected one of {', '.join(keys_of(Settings))}"),
        (
            "[board]\npin_factory = 'x'\n",
            "board.pin_factory",
            '"x" is not one of the choices; expected "lgpio" or "mock"',
        ),
        ("[site]\nname = 3\n", "site.name", "3 is the wrong kind of value; expected text in quotes"),
        (
            "[mqtt]\ntls = 1\n",
            "mqtt.tls",
            "1 is the wrong kind of value; expected true or false, without quotes",
        ),
        (
            "[mqtt]\nport = 'x'\n",
            "mqtt.port",
            (
                "what is written there (not quoted, as it may be a secret) is the wrong kind of value; "
                "expected a whole number, without quotes"
            ),
        ),
        (
            "[mqtt]\nport = 1.0\n",
            "mqtt.port",
            "1.0 is the wrong kind of value; expected a whole number, without quotes",
        ),
        (
            "[fans]\nheat_per_watt = 'x'\n",
            "fans.heat_per_watt",
            '"x" is the wrong kind of value; expected a number, without quotes',
        ),
    ],
)
def test_a_file_of_another_shape_learns_what_was_expected(problems_of, text, key, message):
    """Values for tables, too few, too many, missing, misplaced and unknown ones each have their sentence."""
    assert problems_of(text)[key] == message


def test_what_has_no_sentence_of_its_own_gets_the_words_of_the_checker():
    """A mistake that nobody has thought of still names the value and what the checker said of it."""
    error = {"type": "date_type", "loc": ("site", "name"), "msg": "Input should be a date", "input": 3}
    assert words_of(error) == "3 is not usable here: Input should be a date"


def test_what_must_be_given_is_asked_for_with_an_example_that_would_do(problems_of):
    """Put into the file as they stand, the examples of all messages leave nothing missing or wrong."""
    tables = ("site", "loops.n", "sumps.main", "probes.p")
    text = "".join(f"[{header}]\n" for header in tables)
    missing = {key: words for key, words in problems_of(text).items() if words.startswith("is missing")}
    assert len(missing) == 13
    text = ""
    for header in tables:
        text += f"[{header}]\n"
        text += "".join(
            f"{w.partition(', as in ')[2]}\n" for k, w in missing.items() if k.startswith(f"{header}.")
        )
    assert not missing.keys() & problems_of(text).keys()


@pytest.mark.parametrize("place", [("fans", "nothing"), ("nowhere", "nothing")])
def test_what_is_missing_where_nothing_is_known_has_no_meaning(place):
    """A key or a table that the program does not know itself is only called missing."""
    error = {"type": "missing", "loc": place, "msg": "Field required", "input": {}}
    assert words_of(error) == "is missing"


def test_tables_are_found_at_their_place_only():
    """A named table stands below its kind and a name; none stands inside a value or a plain table."""
    assert section_at(("fans",)) is Fans
    assert section_at(("loops", "any")) is Loop
    assert section_at(()) is Settings
    assert section_at(("fans", "purge")) is None
    assert section_at(("loops", "any", "deeper")) is None


def test_nothing_has_no_keys():
    """Where no table is, no key is known."""
    assert keys_of(None) == []
    assert keys_of(Site) == ["name", "title", "altitude", "location", "forecast_file", "show", "format"]
