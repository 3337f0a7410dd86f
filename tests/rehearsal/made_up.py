"""A rehearsal's summary made up by hand."""

from __future__ import annotations

from controller.rehearsal.summary import (
    AlarmSums,
    Building,
    DemandSums,
    FanSums,
    GroundSums,
    HouseSums,
    LoopSums,
    OpeningAssumed,
    PromiseSums,
    PumpSums,
    Summary,
    SumpSums,
)

IDLE = {"nothing-wanted": 60.0, "drain-down": 30.0, "flood": 9.0, "stagger": 0.01, "back-off": 1.0}
LOOP = LoopSums(
    run_hours=66.7,
    energy_kwh=8.0,
    starts=10,
    charged_kwh=0.04,
    discharged_kwh=131.4,
    soil_start_c=12.3,
    soil_end_c=6.6,
)
HOUSE = HouseSums(
    air_min_c=1.04,
    air_max_c=15.46,
    hours_below_0c=0.0,
    degree_hours_below_4c=35.6,
    hours_above_32c=0.0,
    degree_hours_above_32c=0.0,
    outdoor_min_c=-10.0,
    outdoor_max_c=11.7,
    outdoor_hours_below_0c=99.6,
    fittings={},
)
VENTS = OpeningAssumed(
    kind="roof vent",
    area_m2=20.25,
    height_m=3.2,
    worked="opener",
    open_above_c=30.0,
    open_from=None,
    open_until=None,
)
BUILDING = Building(openings_named=False, openings={"roof-vents": VENTS}, leaf_area=1.2, bed_wetness=0.5)
SUMMARY = Summary(
    site="Fellside school garden",
    weather="A Valley",
    notes=["rain is made up"],
    strategy="hypocaust",
    start="2026-01-01T00:00:00-05:00",
    days=7.0,
    seed=0,
    pace_s=60.0,
    building=BUILDING,
    house=HOUSE,
    fans=FanSums(run_hours=66.7, energy_kwh=8.0, starts=10, idle_hours=IDLE, by_loop={"north": LOOP}),
    ground=GroundSums(
        charged_kwh=0.04,
        discharged_kwh=131.4,
        latent_share=0.25,
        energy_closure_error=1e-13,
        by_demand={"heat": DemandSums(run_hours=66.7, energy_kwh=8.0, heat_kwh=-131.4)},
    ),
    pump=PumpSums(
        run_hours=0.35,
        starts=23,
        wet_hours=0.22,
        locked_hours=37.0,
        by_sump={"main": SumpSums(run_hours=0.35, starts=23, wet_hours=0.22)},
    ),
    alarms={"frost": AlarmSums(raised=4, first_at="2026-01-05T23:33:00-05:00", first="air 2.0 °C")},
    promises=PromiseSums(checked_ticks=10_212, broken=[]),
    wall_s=12.0,
)
