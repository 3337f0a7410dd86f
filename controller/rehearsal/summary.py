"""What a rehearsal is summed up in; the JSON of ``rehearse --json`` and its schema."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class FittingSums(_Part):
    """Shade cloth, thermal screen or backup heater; the controller drives none of them."""

    run_hours: float = Field(ge=0.0, description="hours it was drawn or on")
    heat_kwh: float = Field(ge=0.0, description="heat it gave the house; 0 for cloth and screen")


class OpeningAssumed(_Part):
    """One kind of opening as the rehearsal works it."""

    kind: str = Field(description="roof vent, side vent or door")
    area_m2: float = Field(gt=0.0, description="clear area of all of them together")
    height_m: float = Field(gt=0.0, description="of their middle above the floor")
    worked: str = Field(description="opener, person or never")
    open_above_c: float | None = Field(description="bench temperature; null if they never open")
    open_from: str | None = Field(description="time of day; null unless a person works them")
    open_until: str | None = Field(description="time of day; null unless a person works them")


class Building(_Part):
    """What the rehearsal takes the building to be, as far as it decides how hot the days get."""

    openings_named: bool = Field(description="false if the settings name none and vents are assumed")
    openings: dict[str, OpeningAssumed] = Field(description="what can be opened; empty if nothing can")
    leaf_area: float = Field(ge=0.0, description="leaf area of the crop over floor area")
    bed_wetness: float = Field(ge=0.0, le=1.0, description="share of the bed surface that is moist")


class HouseSums(_Part):
    """The air among the crop."""

    air_min_c: float = Field(description="coldest bench air")
    air_max_c: float = Field(description="warmest bench air")
    hours_below_0c: float = Field(ge=0.0, description="hours of frost among the crop")
    degree_hours_below_4c: float = Field(ge=0.0, description="kelvin below 4 °C, summed over hours")
    hours_above_32c: float = Field(ge=0.0, description="hours above 32 °C among the crop")
    degree_hours_above_32c: float = Field(ge=0.0, description="kelvin above 32 °C, summed over hours")
    outdoor_min_c: float = Field(description="coldest outdoor air")
    outdoor_max_c: float = Field(description="warmest outdoor air")
    outdoor_hours_below_0c: float = Field(ge=0.0, description="hours of frost outdoors")
    fittings: dict[str, FittingSums] = Field(description="of shade, screen and heater those that are fitted")


class LoopSums(_Part):
    """One loop: its fan and the soil around its tubes."""

    run_hours: float = Field(ge=0.0, description="hours the fan was commanded on")
    energy_kwh: float = Field(ge=0.0, description="electricity of the fan")
    starts: int = Field(ge=0)
    charged_kwh: float = Field(ge=0.0, description="heat the fan brought into the soil")
    discharged_kwh: float = Field(ge=0.0, description="heat the fan took out of the soil")
    soil_start_c: float = Field(description="soil at tube depth at the start")
    soil_end_c: float = Field(description="soil at tube depth at the end")


class FanSums(_Part):
    """All fans together, and each."""

    run_hours: float = Field(ge=0.0, description="hours of all fans, added up")
    energy_kwh: float = Field(ge=0.0, description="electricity of all fans")
    starts: int = Field(ge=0, description="starts of all fans, added up")
    idle_hours: dict[str, float] = Field(description="hours the fans stood still, by reason, all added up")
    by_loop: dict[str, LoopSums]


class DemandSums(_Part):
    """What the fans ran for."""

    run_hours: float = Field(ge=0.0)
    energy_kwh: float = Field(ge=0.0)
    heat_kwh: float = Field(description="heat into the soil; negative: out of it")


class GroundSums(_Part):
    """The soil as a store."""

    charged_kwh: float = Field(ge=0.0, description="heat the tubes gave the soil")
    discharged_kwh: float = Field(ge=0.0, description="heat the tubes took from the soil")
    latent_share: float = Field(description="condensed moisture's share of what was charged, 0 to 1")
    energy_closure_error: float = Field(description="what the energy books miss, over what went through")
    by_demand: dict[str, DemandSums]


class SumpSums(_Part):
    """One sump and its pump."""

    run_hours: float = Field(ge=0.0)
    starts: int = Field(ge=0)
    wet_hours: float = Field(ge=0.0, description="hours in which the float read wet")


class PumpSums(_Part):
    """All pumps together, and each."""

    run_hours: float = Field(ge=0.0)
    starts: int = Field(ge=0)
    wet_hours: float = Field(ge=0.0, description="hours in which a float read wet, added up over sumps")
    locked_hours: float = Field(ge=0.0, description="fan hours lost to water and draining, all fans added up")
    by_sump: dict[str, SumpSums]


class PromiseSums(_Part):
    """The safety promises."""

    checked_ticks: int = Field(ge=0)
    broken: list[str] = Field(description="each broken promise with its first break; empty is good")


class AlarmSums(_Part):
    """One alarm code."""

    raised: int = Field(ge=1)
    first_at: str = Field(description="when it was first raised, local standard time of the weather's place")
    first: str = Field(description="what it was about and what it said then")


class Summary(_Part):
    """A rehearsal in numbers; SI, energies in kWh."""

    name: str = Field(
        default="", description="what distinguishes it from the others of a comparison; empty if alone"
    )
    site: str
    weather: str
    notes: list[str] = Field(description="what was filled in or made up in the weather")
    strategy: str
    start: str = Field(description="first moment, local standard time of the weather's place")
    days: float
    seed: int
    pace_s: float = Field(gt=0.0, description="longest time between two ticks of the controller")
    building: Building
    house: HouseSums
    fans: FanSums
    ground: GroundSums
    pump: PumpSums
    alarms: dict[str, AlarmSums]
    promises: PromiseSums
    wall_s: float = Field(ge=0.0, description="seconds the rehearsal took")
