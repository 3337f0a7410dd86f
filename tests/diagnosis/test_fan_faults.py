"""Which fan is named for what its runs and its outlet have shown."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from controller.decision.decide import initial_state
from controller.diagnosis.fan_faults import fan_findings
from controller.diagnosis.outlet_records import NO_OUTLET_RECORD, OutletRecord, OutletWatch
from controller.diagnosis.soil_warmth import NO_SOILS, Soils
from controller.diagnosis.start_records import no_starts
from tests.decision.world import HOUSE, two_sumps

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.diagnosis.probe_records import Record
    from controller.diagnosis.start_records import StartRecord
    from controller.settings.schema import Settings


NOW_S = 0.0


def told(
    failed: dict[str, int] | None = None,
    known: bool = True,
    house: Settings = HOUSE,
    starts: Mapping[str, StartRecord] = MappingProxyType({}),
    rests: Mapping[str, Record] = MappingProxyType({}),
    soils: Soils = NO_SOILS,
    **records: OutletRecord,
) -> list[tuple[str, str, str]]:
    """Code, subject and words of what is found after so many failed runs and these records."""
    derived, state = house.derived, initial_state(house, 0.0)
    fans = {name: fan._replace(failed_runs=(failed or {}).get(name, 0)) for name, fan in state.fans.items()}
    watch = OutletWatch(0.0, dict.fromkeys(fans, NO_OUTLET_RECORD) | records, known)
    known_starts = no_starts(fans, 0.0).records | dict(starts)
    found = fan_findings(derived, fans, watch, known_starts, rests, NOW_S, soils)
    return [(one.code.value, one.subject, one.detail) for one in found]


def answered(by: str, for_s: float = 900.0) -> OutletRecord:
    """An outlet in whose place another has moved for so long."""
    return OutletRecord(other_moved_s=for_s, other_loop=by)


UNASKED = OutletRecord(moving_while_off_s=1800.0, still_while_off_s=1800.0)


def test_sound_fans_are_not_named() -> None:
    """No signs and no failures, no findings; two failures may be the weather."""
    assert told() == []
    assert told({"north": 2, "south": 2}) == []


def test_the_third_failed_run_names_the_fan() -> None:
    """With the number of runs; a second loop that fails is named beside it."""
    assert told({"north": 3}) == [("fan-no-effect", "north", "3 runs moved no heat")]
    assert told({"north": 4, "south": 3}) == [
        ("fan-no-effect", "north", "4 runs moved no heat"),
        ("fan-no-effect", "south", "3 runs moved no heat"),
    ]


def test_loops_of_one_sump_that_all_fail_are_one_finding_of_the_sump() -> None:
    """One of them often enough, the others at least once; otherwise each is named for itself."""
    shut = [("tubes-shut", "main", "none of north, middle, south moves heat")]
    assert told({"north": 3, "middle": 1, "south": 1}) == shut
    assert told({"north": 2, "middle": 2, "south": 2}) == []
    assert told({"north": 3, "middle": 3}) == [
        ("fan-no-effect", "north", "3 runs moved no heat"),
        ("fan-no-effect", "middle", "3 runs moved no heat"),
    ]


def test_one_still_start_of_every_loop_of_a_sump_is_enough_and_so_are_their_soils() -> None:
    """Fans do not die on the same day; water keeps the heat from all soils at once, silt from one."""
    still = no_starts(HOUSE.loops, 0.0).records
    still = {name: record._replace(still=1) for name, record in still.items()}
    shut = [("tubes-shut", "main", "none of north, middle, south moves heat")]
    assert told(starts=still) == shut
    assert told(starts={"north": still["north"], "south": still["south"]}) == []
    every = frozenset(HOUSE.loops)
    (found,) = told(soils=Soils(every, every, frozenset()))
    assert found[:2] == ("tubes-shut", "main")
    one = frozenset({"north"})
    assert told({"north": 3}, soils=Soils(one, one, one), north=UNASKED) == []
    assert told({"north": 3}, soils=Soils(one, one, frozenset())) == [
        ("fan-no-effect", "north", "3 runs moved no heat")
    ]


def test_each_sump_is_judged_by_its_own_loops() -> None:
    """A loop that has a sump to itself is named as a fan, beside the sump whose two loops fail."""
    all_fail = {"north": 3, "middle": 3, "south": 3}
    assert told(all_fail, house=two_sumps()) == [
        ("tubes-shut", "main", "none of north, middle moves heat"),
        ("fan-no-effect", "south", "3 runs moved no heat"),
    ]


def test_a_sump_is_not_shut_because_another_loop_fails() -> None:
    """One of its own loops must have failed often enough."""
    failed = {"north": 1, "middle": 1, "south": 3}
    assert told(failed, house=two_sumps()) == [("fan-no-effect", "south", "3 runs moved no heat")]


def test_a_short_answer_of_another_outlet_hides_no_failing_fan() -> None:
    """Only when it has lasted is the other loop explained by it."""
    words = [("fan-no-effect", "south", "3 runs moved no heat")]
    assert told({"south": 3}, north=answered("south", 899.0)) == words


def test_crossed_fans_are_named_once_with_both_names() -> None:
    """Of a pair only the first by name; not before the signs have lasted."""
    pair: Any = {"north": answered("south"), "south": answered("north")}
    assert told(**pair) == [("fan-swapped", "north", "its fan moves the air of loop south")]
    assert told(north=answered("south", 899.0)) == []
    assert told(south=answered("north")) == [("fan-swapped", "north", "its fan moves the air of loop south")]


def test_of_a_loop_only_the_plainest_is_named() -> None:
    """A loop whose air another fan moves is not called failing, nor a failing one unasked."""
    crossed = [("fan-swapped", "north", "its fan moves the air of loop south")]
    assert told({"south": 3, "north": 3}, north=answered("south")) == crossed
    assert told({"south": 3}, south=UNASKED) == [("fan-no-effect", "south", "3 runs moved no heat")]


def test_air_without_a_command_is_named_where_outlets_tell() -> None:
    """A house that has not shown both looks of an outlet is not judged."""
    words = [("fan-unasked", "south", "air comes out although its fan is off")]
    assert told(south=UNASKED) == words
    assert told(south=UNASKED, north=answered("middle")) == [
        ("fan-swapped", "middle", "its fan moves the air of loop north"),
        *words,
    ]
    assert told(known=False, south=UNASKED) == []
    assert told(south=UNASKED._replace(moving_while_off_s=1799.0)) == []
    assert told({"north": 3}, south=UNASKED) == [*words, ("fan-no-effect", "north", "3 runs moved no heat")]
