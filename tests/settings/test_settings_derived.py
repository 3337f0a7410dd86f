"""What follows from the settings of a house once and for all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from controller.decision.heat import proven_heat_w
from controller.equipment import OutputId
from controller.physics import moist_air, tube
from controller.readings.reading import Good, Missing, Why
from controller.settings.schema.derived import ProbeGroups
from tests.decision.world import HOUSE, two_sumps

if TYPE_CHECKING:
    from controller.settings.schema.derived import DerivedLoop


def north(**changes: Any) -> DerivedLoop:
    """The plan of the north loop with some of its settings changed."""
    loop = HOUSE.loops["north"].model_copy(update=changes)
    return HOUSE.model_copy(update={"loops": {"north": loop}}).derived.loops[0]


def test_a_loop_knows_its_fan_its_sump_and_its_power() -> None:
    """As they are in its settings, loop by loop."""
    plan = two_sumps().derived
    assert [loop.name for loop in plan.loops] == ["north", "middle", "south"]
    assert [loop.fan for loop in plan.loops] == [OutputId.fan(loop.name) for loop in plan.loops]
    assert [loop.sump for loop in plan.loops] == ["main", "main", "low"]
    assert [loop.power_w for loop in plan.loops] == [120.0] * 3
    assert plan.pumps == {"main": OutputId.pump("main"), "low": OutputId.pump("low")}


@pytest.mark.parametrize("wall", ["corrugated", "smooth"])
def test_the_heat_of_a_loop_is_that_of_dry_air_through_its_own_tubes(wall: str) -> None:
    """Air stream at 15 °C and the pressure of the place, and the tubes' effectiveness by their measures."""
    loop = HOUSE.loops["north"]
    pressure_pa = moist_air.standard_pressure_pa(HOUSE.site.altitude_m)
    stream = loop.flow_m3_s * moist_air.density_kg_m3(15.0, 0.0, pressure_pa)
    air_w_per_k = stream * moist_air.heat_capacity_j_kgk(0.0)
    effectiveness = tube.loop_effectiveness(
        0.30, loop.tubes, loop.tube_length_m, loop.tube_diameter_m, wall == "corrugated", 15.0, pressure_pa
    )
    assert (loop.flow_m3_s, HOUSE.site.altitude_m) == (0.30, 240.0)
    plan = north(tube_wall=wall)
    assert plan.air_w_per_k == pytest.approx(air_w_per_k, rel=1e-12)
    assert plan.expected_w_per_k == pytest.approx(effectiveness * air_w_per_k, rel=1e-12)
    assert 0.0 < plan.expected_w_per_k < plan.air_w_per_k


def test_house_air_is_watched_for_fire_and_outlets_for_the_level_alone() -> None:
    """Every ceiling, bench and outlet probe; an outlet jumps at a start."""
    assert dict(HOUSE.model_copy().derived.fire_probes) == {
        "ceiling-west": True, "ceiling-east": True, "bench": True,
        "north-outlet": False, "middle-outlet": False, "south-outlet": False,
    }  # fmt: skip


def test_what_follows_from_settings_is_worked_out_once_and_never_copied_with_them() -> None:
    """A copy with other loops has figures of its own, although the original's were known already."""
    assert HOUSE.derived is HOUSE.derived
    assert north(power_w=90.0).power_w == 90.0
    assert HOUSE.derived.loops[0].power_w == 120.0


def test_heat_is_known_where_both_ends_of_the_tubes_are() -> None:
    """Positive into the soil; unknown without the ceiling or without the outlet."""
    plan = HOUSE.derived.loops[0]
    silent = Missing(Why.SILENT, 0.0)
    assert proven_heat_w(plan, Good(25.0, 0.0), Good(15.0, 0.0)) == plan.air_w_per_k * 10.0
    assert proven_heat_w(plan, silent, Good(15.0, 0.0)) is None
    assert proven_heat_w(plan, Good(25.0, 0.0), silent) is None


def test_probes_are_compared_with_those_of_their_kind() -> None:
    """Air with air, soil with soil, root zone with root zone; outlets go by their loop."""
    groups = HOUSE.model_copy().derived.groups
    assert groups == ProbeGroups(
        ceilings=("ceiling-west", "ceiling-east"),
        benches=("bench",),
        soils=("north-soil", "middle-soil", "south-soil"),
        roots=("north-roots", "middle-roots", "south-roots"),
        outlets=(("north", "north-outlet"), ("middle", "middle-outlet"), ("south", "south-outlet")),
    )
    assert groups.names == set(HOUSE.probes) - {"outdoor"}
