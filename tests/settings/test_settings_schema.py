"""The whole file: how many of each table, which may be left out, and who belongs to whom."""

from __future__ import annotations

import tomllib

import pytest
from pydantic import ValidationError

from controller.settings.load import parse
from controller.settings.schema import (
    Board,
    Fans,
    Fire,
    History,
    House,
    Judging,
    Pump,
    Service,
    Setpoints,
    Settings,
)
from tests.settings.edit import changed


@pytest.mark.parametrize(("table", "most"), [("loops", 16), ("sumps", 4), ("probes", 64)])
def test_there_is_at_least_one_of_each_and_at_most_so_many(house, table, most):
    """One and the most are good, none and one more are refused."""
    document = tomllib.loads(house)
    one = next(iter(document[table].values()))

    def with_so_many(number: int) -> Settings:
        return Settings.model_validate({**document, table: {f"n{i}": one for i in range(number)}})

    for number in (1, most):
        assert len(getattr(with_so_many(number), table)) == number
    for number, kind in ((0, "too_short"), (most + 1, "too_long")):
        with pytest.raises(ValidationError) as caught:
            with_so_many(number)
        assert [(error["type"], error["loc"]) for error in caught.value.errors()] == [(kind, (table,))]


def test_a_file_without_openings_has_the_vents_it_speaks_of(house):
    """15 % of the floor under the ridge, with an opener, or nothing; openings of the file replace them."""
    (vents,) = parse(house).all_openings().values()
    assert (vents.kind, vents.worked, vents.open_above_c) == ("roof vent", "opener", 30.0)
    assert (vents.area_m2, vents.height_m) == (pytest.approx(0.15 * 18.0 * 7.5), 3.2)
    shut = changed(house, {"house.vents_open_above": '"never"'})
    assert parse(shut).all_openings() == {}
    doors = '[openings.doors]\nkind = "door"\narea = "3 m2"\nheight = "1 m"\nworked = "never"\n'
    for text in (house, shut):
        assert set(parse(text + doors).all_openings()) == {"doors"}


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ('"nver"', 'write for example "26 °C" or "never"'),
        ("30", 'has no unit; write for example "26 °C" or "never"'),
        ('"46 °C"', "expected 15 °C to 45 °C"),
    ],
)
def test_vents_open_above_a_temperature_or_never(house, problems_of, written, words):
    """Anything else is refused, and the message says what else there is."""
    (message,) = problems_of(changed(house, {"house.vents_open_above": written})).values()
    assert words in message


def test_no_other_temperature_is_never(house, problems_of):
    """The word is good only where it means something."""
    found = problems_of(changed(house, {"setpoints.too_hot": '"never"'}))
    assert found == {"setpoints.too_hot": '"never" does not start with a number; write for example "26 °C"'}


def test_a_table_that_is_left_out_has_its_defaults(small):
    """The smallest house has every table of the control as if it were written empty, and no link."""
    settings = parse(small)
    left_out = {
        "setpoints": Setpoints(),
        "fans": Fans(),
        "pump": Pump(),
        "fire": Fire(),
        "judging": Judging(),
        "board": Board(),
        "service": Service(),
        "history": History(),
        "house": House(),
        "openings": {},
        "mqtt": None,
    }
    assert not left_out.keys() & tomllib.loads(small).keys()
    assert {name: getattr(settings, name) for name in left_out} == left_out


def test_probes_and_loops_are_found_by_what_they_belong_to(house):
    """Probes by place and loop, loops by sump, in the order of the file; nobody belongs to a stranger."""
    settings = parse(house)
    assert settings.probe_names("ceiling") == ("ceiling-west", "ceiling-east")
    assert settings.probe_names("soil", "middle") == ("middle-soil",)
    assert settings.probe_names("soil") == ()
    assert settings.probe_names("ceiling", "middle") == ()
    assert settings.loops_of("main") == ("north", "middle", "south")
    assert settings.loops_of("other") == ()
