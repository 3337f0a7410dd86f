"""Rehearsals side by side: figures, words and picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from matplotlib.figure import Figure

from controller.rehearsal.report.compared_files import directory_name
from controller.rehearsal.report.compared_picture import draw_comparison
from controller.rehearsal.report.compared_text import comparison
from controller.rehearsal.report.measures import COLDEST, HOT, MEASURES, PER_KWH, MeasureKind
from controller.units import TemperatureUnit
from tests.rehearsal.made_up import HOUSE, SUMMARY
from tests.rehearsal.report.test_plots import overlapping

if TYPE_CHECKING:
    from pathlib import Path

    from controller.rehearsal.summary import Summary

CELSIUS, FAHRENHEIT = TemperatureUnit.CELSIUS, TemperatureUnit.FAHRENHEIT


def named(name: str, **house: float) -> Summary:
    """The made-up rehearsal with another name and house."""
    return SUMMARY.model_copy(update={"name": name, "house": HOUSE.model_copy(update=house)})


def page(*summaries: Summary, unit: TemperatureUnit = CELSIUS) -> list[str]:
    """The comparison as lines; none is too wide."""
    lines = comparison(summaries, unit, 12.0)
    assert max(map(len, lines)) <= 80
    return lines


def below(lines: list[str], words: str) -> tuple[str, str]:
    """The row that begins with these words, and the one below, with single spaces."""
    (index,) = [i for i, line in enumerate(lines) if line.strip().startswith(words)]
    return " ".join(lines[index].split()), " ".join(lines[index + 1].split())


def test_differences_are_in_plain_words_and_of_the_rounded_figures() -> None:
    """A reader can take one figure from the other and finds the difference."""
    lines = page(
        named("first"), named("other", air_min_c=-3.66, hours_below_0c=29.3, degree_hours_below_4c=244.4)
    )
    assert below(lines, "coldest among") == ("coldest among the crop 1.0 °C -3.7 °C", "4.7 K colder")
    assert below(lines, "time in frost") == ("time in frost 0.0 h 29.3 h", "29.3 h more")
    assert below(lines, "degree-hours below")[1] == "208 K h more"
    assert below(lines, "warmest among")[1].startswith("time above 32.0 °C")  # no row without a difference


def test_fahrenheit_readers_get_every_temperature_in_it() -> None:
    """Temperatures are moved and scaled, differences and degree-hours scaled only."""
    lines = page(named("first"), named("other", air_min_c=6.04, degree_hours_below_4c=45.6), unit=FAHRENHEIT)
    assert below(lines, "coldest among") == ("coldest among the crop 33.9 °F 42.9 °F", "9.0 °F warmer")
    assert below(lines, "degree-hours below 39.2 °F") == (
        "degree-hours below 39.2 °F 64.1 °F h 82.1 °F h",
        "18.0 °F h more",
    )


def test_more_than_three_come_in_blocks_with_the_first_in_each() -> None:
    """Every block can be read by itself."""
    names = ["first", "second", "third", "fourth", "a rehearsal with quite a long name, seed 12"]
    lines = page(*(named(name) for name in names))
    assert (
        sum(line.split()[:1] == ["first"] for line in lines)
        + sum(line.split()[-2:-1] == ["first"] for line in lines)
        >= 2
    )
    assert sum(line == "The house" for line in lines) == 2
    assert [line for line in lines if line.startswith("5 rehearsals, 7 days each, 1 January to 7 January")]


def test_what_all_share_is_told_once_and_notes_name_their_rehearsal() -> None:
    """Site and weather are not repeated; a note that holds for one says for which."""
    other = named("cold").model_copy(update={"weather": "A Ridge", "notes": ["rain is made up", "snow, too"]})
    told = "\n".join(page(named("warm"), other))
    assert "All: Fellside school garden" in told
    assert "A Valley" not in told
    assert "note: rain is made up\n" in told
    assert "note: snow, too (cold)" in told


def test_broken_promises_and_open_books_are_shouted() -> None:
    """Neither is lost in a table."""
    broken = SUMMARY.promises.model_copy(update={"broken": ["P1: wet"]})
    ground = SUMMARY.ground.model_copy(update={"energy_closure_error": 0.02})
    bad = SUMMARY.model_copy(update={"name": "bad", "promises": broken, "ground": ground})
    told = "\n".join(page(named("good"), bad))
    assert "SAFETY PROMISES BROKEN" in told
    assert "  bad: P1: wet" in told
    assert "WARNING: the energy books of bad do not close" in told
    assert "safety promises broken" in told


def test_no_electricity_has_no_heat_per_kwh() -> None:
    """A dash, not a division by 0, and no difference."""
    still = SUMMARY.fans.model_copy(update={"energy_kwh": 0.0})
    off = SUMMARY.model_copy(update={"name": "off", "fans": still})
    assert PER_KWH.of(off) is None
    assert below(page(named("on"), off), "heat moved for each kWh")[0] == "heat moved for each kWh 16.4 kWh -"


def test_every_column_of_the_table_has_a_name_of_its_own() -> None:
    """No figure overwrites another, and each kind has words for less and more."""
    columns = [measure.column for measure in MEASURES]
    assert len(set(columns)) == len(columns)
    assert all(kind.words(-1.0) != kind.words(1.0) for kind in MeasureKind)
    assert HOT.name(FAHRENHEIT) == "degree-hours above 89.6 °F"
    assert COLDEST.places([0.0]) == 1


def test_directories_have_names_that_any_file_system_takes() -> None:
    """In the order of the rehearsals, readable, and never the same."""
    assert directory_name(1, "carolina-8K, fans-off") == "1-carolina-8K-fans-off"
    assert directory_name(2, "../Tromsø/ü.toml") == "2-Troms-.toml"


@pytest.mark.parametrize("count", [2, 5, 24])
@pytest.mark.parametrize("unit", [CELSIUS, FAHRENHEIT])
def test_no_words_of_the_picture_run_into_each_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int, unit: TemperatureUnit
) -> None:
    """Long names, large, small and negative figures all find room."""
    drawn: list[Figure] = []
    monkeypatch.setattr(Figure, "savefig", lambda figure, *_args, **_kwargs: drawn.append(figure))
    summaries = [
        named(
            f"invented-alaska-coast-{i}K, plain-thermostat",
            air_min_c=3.0 - i,
            degree_hours_below_4c=10.0 ** (i % 6),
        )
        for i in range(count)
    ]
    draw_comparison(tmp_path / "c.png", summaries, unit)
    assert overlapping(drawn[0]) == []
