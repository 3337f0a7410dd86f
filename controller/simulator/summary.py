"""What a rehearsal is summed up in; the JSON of ``rehearse --json`` and its schema."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class HouseSums(_Part):
    """The air among the crop."""

    air_min_c: float = Field(description="coldest bench air")
    air_max_c: float = Field(description="warmest bench air")
    hours_below_0c: float = Field(description="hours of frost among the crop")
    degree_hours_below_4c: float = Field(description="kelvin below 4 °C, summed over hours")
    degree_hours_above_32c: float = Field(description="kelvin above 32 °C, summed over hours")
    outdoor_min_c: float = Field(description="coldest outdoor air")
    outdoor_max_c: float = Field(description="warmest outdoor air")
    outdoor_hours_below_0c: float = Field(description="hours of frost outdoors")


class LoopSums(_Part):
    """One loop's fan."""

    run_hours: float
    energy_kwh: float
    starts: int


class FanSums(_Part):
    """All fans together, and each."""

    run_hours: float = Field(description="hours of all fans, added up")
    energy_kwh: float = Field(description="electricity of all fans")
    starts: int = Field(description="starts of all fans, added up")
    by_loop: dict[str, LoopSums]


class DemandSums(_Part):
    """What the fans ran for."""

    run_hours: float
    energy_kwh: float
    heat_kwh: float = Field(description="heat into the soil; negative: out of it")


class GroundSums(_Part):
    """The soil as a store."""

    charged_kwh: float = Field(description="heat the tubes gave the soil")
    discharged_kwh: float = Field(description="heat the tubes took from the soil")
    latent_share: float = Field(description="condensed moisture's share of what was charged, 0 to 1")
    energy_closure_error: float = Field(description="what the energy books miss, over what went through")
    by_demand: dict[str, DemandSums]


class PumpSums(_Part):
    """All pumps together."""

    run_hours: float
    starts: int
    wet_hours: float = Field(description="hours in which a float said wet")
    locked_hours: float = Field(description="fan hours lost to water and draining, added up over fans")


class PromiseSums(_Part):
    """The safety promises."""

    checked_ticks: int
    broken: list[str] = Field(description="each broken promise with its first break; empty is good")


class AlarmSums(_Part):
    """One alarm code."""

    raised: int
    first: str = Field(description="when it was first raised and what it said")


class Summary(_Part):
    """A rehearsal in numbers; SI, energies in kWh."""

    site: str
    weather: str
    notes: list[str]
    strategy: str
    start: str
    days: float
    seed: int
    house: HouseSums
    fans: FanSums
    ground: GroundSums
    pump: PumpSums
    alarms: dict[str, AlarmSums]
    promises: PromiseSums
    wall_s: float = Field(description="seconds the rehearsal took")
