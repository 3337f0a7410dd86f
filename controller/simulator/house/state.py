"""What the compiled model works on: records of named numbers, and bundles of arrays.

A record is mutable and looks the same to plain Python and to the compiler; its class only names the fields.
Parameters follow from the settings and stay, state changes from step to step. Shapes are in brackets.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, Protocol, TypeVar, cast, overload

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

SEGMENTS = 8  # stretches of soil and air along every tube

Record = TypeVar("Record")
Row_co = TypeVar("Row_co", covariant=True)


class Rows(Protocol[Row_co]):
    """An array of records."""

    shape: tuple[int]

    @overload
    def __getitem__(self, key: int) -> Row_co: ...
    @overload
    def __getitem__(self, key: str) -> Floats: ...
    def __setitem__(self, key: str, values: NDArray[Any]) -> None: ...


class HouseState:
    """Air, surfaces and fittings now: temperatures, humidity ratios (``_w``) and shares from 0 to 1."""

    bench_c: float
    bench_w: float
    ceiling_c: float
    ceiling_w: float
    crop_c: float
    vent: float
    out_c: float
    floor_c: float
    cover_c: float
    bed_c: float
    bed_felt_c: float
    shade: float
    screen: float
    heater: float


class HouseParameters:
    """What is built."""

    floor_m2: float
    cover_m2: float
    air_kg: float
    ridge_m: float
    layer_m: float
    leak_m2: float
    leaf_area: float
    crop_cover: float
    bed_wet: float
    cover_m2k_w: float
    cover_dark: float
    shade_share: float
    shade_light_w_m2: float
    shade_air_c: float
    screen_m2k_w: float
    screen_light_w_m2: float
    heater_w: float
    heater_below_c: float
    heater_band_k: float


class OpeningParameters:
    """All openings of one name. Who never opens has one that opens above infinity."""

    area_m2: float
    above_c: float
    by_person: float
    from_s: float
    until_s: float


class HalfOpening:
    """Lower or upper half of an opening; the ceiling layer reaches ``high_share`` of it."""

    area_m2: float
    height_m: float
    high_share: float


class WeatherNow:
    """The weather of a moment; also a row of the hourly table, in which ``day_s`` (time of day) is 0."""

    air_c: float
    humidity: float
    pressure_pa: float
    wind_m_s: float
    sky_w_m2: float
    shade_season: float
    sun_w_m2: float
    rain_m_s: float
    light_w_m2: float
    day_s: float


class LoopParameters:
    """One loop's fan and tubes."""

    mass_flow_kg_s: float
    power_w: float
    half_metres: float
    tube_share: float
    film_kg: float
    volume_m3: float
    sump: float
    half_spacing_m: float
    shut_off: float
    tube_flow_m3_s: float
    segment_m: float
    diameter_m: float
    corrugated: float
    pressure_pa: float


class LoopState:
    """One loop now. ``silted`` and ``intake_share`` are given from outside."""

    outlet_c: float
    outlet_w: float
    flow_share: float
    flooded: float
    heat_w: float
    latent_w: float
    power_w: float
    silted: float
    intake_share: float
    open_share: float
    units: float


class SumpParameters:
    """One sump, its pump and the ground that drains to it."""

    catchment_m2: float
    infiltration_m_s: float
    drain_s: float
    rise_m3: float
    flood_m3: float
    pump_m3_s: float
    most_m3: float


class SumpState:
    """One sump now. ``back_m3``, what runs back after a run of the pump, is given from outside."""

    soil_water_m: float
    volume_m3: float
    float_wet: float
    tube_water_m3: float
    inflow_m3_s: float
    pond_m: float
    back_m3: float
    pipe_m3: float


class Sums:
    """The books as they grow: sums since the start."""

    sun_j: float
    fans_j: float
    cover_j: float
    air_exchange_j: float
    charged_j: float
    discharged_j: float
    latent_in_j: float
    latent_out_j: float
    crop_latent_j: float
    fog_latent_j: float
    cover_latent_j: float
    heater_j: float
    transpired_kg: float
    vented_kg: float
    cover_kg: float
    fog_kg: float
    tube_condensed_kg: float
    tube_evaporated_kg: float
    tube_drained_kg: float
    rain_m3: float
    run_off_m3: float
    dried_m3: float
    pumped_m3: float
    heater_s: float
    screen_s: float
    shade_s: float


class GroundPace:
    """How far the ground lags behind the air, how long its steps may be, and what the room feels of it.

    Attributes:
        age_s: since the ground's last step.
        edge_age_s: since heat was last exchanged with the ground beside the house.
        step_s: between two steps of the ground.
        limit_s: longest part of such a step that is stable.
        floor_w_k: conductance from the room to the topmost soil.
    """

    age_s: float
    edge_age_s: float
    step_s: float
    limit_s: float
    floor_w_k: float


class AllTubes:
    """All loops together in one step: air, electricity, and heat the air leaves in the tubes."""

    air_kg_s: float
    fan_w: float
    sensible_w: float
    latent_w: float


class Faces(NamedTuple):
    """The cells around a tube: rows and columns, conductance to the wall [loop, face], and its sum [loop]."""

    row: Places
    column: Places
    conductance: Floats
    total: Floats


class Spread(NamedTuple):
    """Conduction between cells, repeated for every segment [loop, depth, across * segment]."""

    across: Floats
    down: Floats
    kelvin_per_j: Floats


class Openings(NamedTuple):
    """All openings [opening], their halves [2 * opening], and how far each is open, 0 to 1 [opening]."""

    parameters: Rows[OpeningParameters]
    halves: Rows[HalfOpening]
    opened: Floats


class House(NamedTuple):
    """What is built, and how it is now."""

    parameters: HouseParameters
    state: HouseState
    openings: Openings


class Weather(NamedTuple):
    """The year hour by hour, and now."""

    table: Rows[WeatherNow]
    now: WeatherNow


class Tubes(NamedTuple):
    """All loops [loop], the walls of their tubes [loop, segment], and their sums in this step.

    ``on`` is 1 for a fan that is driven.
    """

    parameters: Rows[LoopParameters]
    state: Rows[LoopState]
    on: Floats
    wall_c: Floats
    film_kg: Floats
    all: AllTubes


class Sumps(NamedTuple):
    """All sumps [sump]; ``pumping`` is the share of a pump's flow that is driven."""

    parameters: Rows[SumpParameters]
    state: Rows[SumpState]
    pumping: Floats
    condensate_kg: Floats


class Ground(NamedTuple):
    """All ground: cells [loop, depth, across], with a rim of one ghost cell all round.

    Temperatures have an axis more, [segment]; what is gathered for the next step is [loop, segment], in J per
    metre of half-cell.
    """

    temp_c: Floats
    edge_c: Floats
    spread: Spread
    down: Floats
    kelvin_per_j: Floats
    edge: Floats
    faces: Faces
    width: Floats
    half_spacing_m: Floats
    surface_w_k: Floats
    soil_c: Floats
    top_c: Floats
    wall_j: Floats
    surface_j: Floats
    lateral_j: Floats
    deep_j: Floats
    next_c: Floats
    share_j: Floats
    pace: GroundPace


class Whole(NamedTuple):
    """The whole model."""

    weather: Weather
    house: House
    tubes: Tubes
    sumps: Sumps
    ground: Ground
    sums: Sums
    step_s: float


def record(of: type[Record]) -> Record:
    """A record of this class, all 0."""
    return cast("Record", _array(of, 1)[0])


def window(of: object, field: str) -> Floats:
    """A field of a ``record`` as an array of one number, which plain Python reads many times as fast."""
    array: Floats = cast("Any", of).base[field]
    return array


def bare(of: Record) -> Rows[Record]:
    """A ``record`` as an array of one row, which compiled code takes without a search for its type."""
    return cast("Rows[Record]", np.asarray(cast("Any", of).base))


def rows(of: type[Record], count: int) -> Rows[Record]:
    """As many records, all 0."""
    return cast("Rows[Record]", _array(of, count))


def _array(of: type, count: int) -> Any:
    layout = np.dtype([(name, np.float64) for name in of.__annotations__])
    return np.zeros(count, layout).view(np.recarray)
