"""Tables on what is around the control: the site, the building, the daemon, its history and its link."""

from typing import Literal

from controller.settings.last_good import DEFAULT_RUNTIME_DIRECTORY, DEFAULT_STATE_DIRECTORY
from controller.settings.schema.section import Section, setting
from controller.settings.schema.values import (
    Account,
    Celsius,
    CelsiusOrNever,
    CubicMetres,
    Directory,
    Host,
    Kelvin,
    Location,
    Metres,
    Name,
    OptionalFile,
    Seconds,
    ShownUnit,
    Title,
    WaterFlow,
    Watts,
    WattsPerSquareMetre,
)

# The form of settings files that this release reads; each change of it is a step in settings/migrations.py.
FORMAT = 6


class Site(Section):
    """[site]: which house this is."""

    name: Name = setting(..., "The short name of the site. It is part of every MQTT topic.", example='"home"')
    title: Title = setting("", "Name of the house as people say it, for reports and the status.")
    altitude_m: Metres = setting(
        "0 m",
        "Height above sea level; sets the air density that heat figures are worked out with.",
        smaller="Denser air, more heat per cubic metre.",
        larger="Thinner air, less heat per cubic metre.",
        low="-400 m",
        high="5000 m",
    )
    location: Location = setting(
        "",
        "Where the house stands, in degrees, such as 46.52 N, 7.25 E. With a clock that is set it gives "
        "sunset and sunrise for the outlook on the night; without it 17:00 and 07:00 stand for them.",
    )
    forecast_file: OptionalFile = setting(
        "",
        "File with a forecast of the coming night's low outdoors, which another program renews: one line "
        "with the date of the evening and the temperature, such as 2026-01-31 -7.5 °C. Empty for none.",
    )
    show: ShownUnit = setting(
        "°C", 'Unit in which people read temperatures, "°C" or "°F"; machines always get °C.'
    )
    format: int | None = setting(
        None,
        "The form this file is written in. `hypocaust migrate` brings an older file up to date and keeps "
        "this number; a file without it is taken to be as old as the oldest thing in it.",
        low=1,
        high=FORMAT,
    )


Texture = Literal["sand", "sandy loam", "loam", "clay loam", "silty clay", "clay"]
Moisture = Literal["dry", "moist", "saturated"]


class House(Section):
    """[house]: the building; used by the rehearsal and the reports, not by control."""

    length_m: Metres = setting("18 m", "Length of the house.", low="2 m", high="200 m")
    width_m: Metres = setting("7.5 m", "Width of the house.", low="2 m", high="60 m")
    ridge_m: Metres = setting("3.2 m", "Height of the ridge.", low="1.5 m", high="15 m")
    axis_degrees: float = setting(
        90.0,
        "How far the ridge runs from north, in degrees to the east: 90 for a house that lies from east to "
        "west, 0 for one from north to south. East to west catches more of the winter sun, and a little less "
        "in summer.",
        low=0.0,
        high=180.0,
    )
    cover: Literal["single film", "double film", "single glass", "twin-wall"] = setting(
        "double film", "What covers it; sets heat loss and light."
    )
    air_changes_per_hour: float = setting(
        0.8,
        "Air leakage with everything shut on a calm night 20 K colder than the house, house volumes an hour; "
        "wind adds to it.",
        smaller="Tighter, warmer nights.",
        larger="Leakier, colder nights.",
        low=0.05,
        high=10.0,
    )
    vents_open_above_c: CelsiusOrNever = setting(
        "30 °C",
        "Bench temperature at which an opener begins to open the roof vents that a house without [openings] "
        'is taken to have: 15 % of the floor. "never": they stay shut. It has no effect beside [openings].',
        low="15 °C",
        high="45 °C",
    )
    leaf_area: float = setting(
        1.2,
        "Leaf area of the crop over floor area: 0.5 for young or sparse plants, 1 to 2 for beds of leaf "
        "vegetables, 3 for tall fruit vegetables.",
        smaller="Less light is turned into vapour: hotter, drier days.",
        larger="The crop shades and cools the house: cooler, damper days.",
        low=0.0,
        high=8.0,
    )
    bed_wetness: float = setting(
        0.5,
        "Share of the bed surface that is moist.",
        smaller="Drier air, hotter days.",
        larger="Damper air, cooler days.",
        low=0.0,
        high=1.0,
    )
    shade_share: float = setting(
        0.0,
        "Share of the light that a shade cloth over the cover holds back while drawn; 0 for no cloth.",
        smaller="More light and heat.",
        larger="Less light and heat.",
        low=0.0,
        high=0.95,
    )
    shade_above_light_w_m2: WattsPerSquareMetre = setting(
        "0 W/m2",
        "The cloth is drawn while the light on level ground is stronger; 0 W/m2 for a cloth that stays on.",
        smaller="Drawn on more days.",
        larger="Only the strongest sun is shaded.",
        low="0 W/m2",
        high="1200 W/m2",
    )
    shade_above_c: Celsius = setting(
        "0 °C",
        "The cloth is drawn only while the bench air is warmer than this as well.",
        smaller="Drawn in cool weather too.",
        larger="Drawn in the heat only.",
        low="-20 °C",
        high="45 °C",
    )
    shade_from_month: int = setting(1, "First month in which the cloth is used.", low=1, high=12)
    shade_to_month: int = setting(
        12,
        "Last month in which the cloth is used; one before the first counts across the new year.",
        low=1,
        high=12,
    )
    screen_saving: float = setting(
        0.0,
        "Share of the cover's heat loss that a thermal screen close under it saves while drawn; 0.3 to 0.5 "
        "is common, and 0 means that there is no screen.",
        smaller="Colder nights.",
        larger="Warmer nights.",
        low=0.0,
        high=0.8,
    )
    screen_below_light_w_m2: WattsPerSquareMetre = setting(
        "5 W/m2",
        "The screen opens in the morning when the light on level ground reaches this, and is drawn in the "
        "evening a little below it.",
        smaller="Drawn in the dark only.",
        larger="Drawn in dull light too, which the crop then lacks.",
        low="1 W/m2",
        high="200 W/m2",
    )
    heater_power_w: Watts = setting(
        "0 W",
        "Heat that a backup heater with its own thermostat gives the bench air; 0 W for no heater.",
        smaller="May not hold its temperature in a hard frost.",
        larger="Holds it in harder frost.",
        low="0 W",
        high="500 kW",
    )
    heater_below_c: Celsius = setting(
        "3 °C",
        "Bench temperature below which the backup heater comes on.",
        smaller="Less heating, colder nights.",
        larger="More heating, warmer nights.",
        low="-10 °C",
        high="25 °C",
    )
    heater_band_k: Kelvin = setting(
        "1 K",
        "How far the bench air must rise before the backup heater goes off again.",
        smaller="Short, frequent runs.",
        larger="Long runs, larger swings.",
        low="0.2 K",
        high="5 K",
    )
    soil: Texture = setting("silty clay", "Soil under the house.")
    soil_moisture: Moisture = setting(
        "moist",
        "How wet that soil is below the topmost 0.3 m, which is watered: as dry as roots can make it, as "
        "moist as it stays after draining, or under water. Wetter soil carries and holds more heat.",
    )
    tube_bed: Literal["none", "sand", "sandy loam", "loam", "clay loam", "silty clay", "clay"] = setting(
        "none", "Other soil that the tubes are bedded in, such as sand in a trench through clay."
    )
    tube_bed_moisture: Moisture = setting("moist", "How wet the bed of the tubes is.")
    tube_bed_thickness_m: Metres = setting(
        "0.3 m",
        "Height of the bed, half of it above and half below the middle of the tubes.",
        low="50 mm",
        high="2 m",
    )
    edge_insulation_depth_m: Metres = setting(
        "0 m",
        "How deep foam boards stand in the ground round the house; 0 without boards.",
        smaller="More heat goes to the ground beside the house.",
        larger="Less of it does; the first half metre helps most.",
        low="0 m",
        high="2 m",
    )
    edge_insulation_thickness_m: Metres = setting(
        "50 mm", "Thickness of the foam boards.", low="10 mm", high="300 mm"
    )
    pump_flow_m3_s: WaterFlow = setting("2 L/s", "Water the sump pump moves.", low="0.1 L/s", high="20 L/s")
    sump_volume_m3: CubicMetres = setting(
        "60 L", "Water between the float's fall and its rise.", low="5 L", high="2000 L"
    )


class Service(Section):
    """[service]: the daemon itself."""

    tick_s: Seconds = setting(
        "10 s",
        "Time between two decisions; a float edge is always answered at once.",
        smaller="More processor time.",
        larger="Slower reaction to temperature.",
        low="1 s",
        high="15 s",
    )
    lease_s: Seconds = setting(
        "35 s",
        "Outputs go off by themselves when no tick has renewed them for this long. A program that stands "
        "still is ended after 20 s and its outputs are off within 10 s more, so the least is 30 s.",
        smaller="A hanging program is stopped sooner.",
        larger="Outputs stay as they are for longer.",
        low="30 s",
        high="3 min",
    )
    runtime_directory: Directory = setting(
        DEFAULT_RUNTIME_DIRECTORY,
        "Where the status file and the timers live (RUNTIME_DIRECTORY, if set, wins).",
    )
    state_directory: Directory = setting(
        DEFAULT_STATE_DIRECTORY,
        "Where history, latches and the last good copy of this file live (STATE_DIRECTORY, if set, wins).",
    )


class History(Section):
    """[history]: what is kept on disk. Leave the section out for the defaults."""

    file: OptionalFile = setting("", 'SQLite file; empty means "history.sqlite3" in the state directory.')
    every_s: Seconds = setting(
        "5 min",
        "How often readings are written.",
        smaller="Finer history, more wear on the card.",
        larger="Coarser history.",
        low="1 min",
        high="60 min",
    )
    write_every_s: Seconds = setting(
        "1 min",
        "How often the batch is written to the card.",
        smaller="Less is lost in a power cut, more wear.",
        larger="More is lost in a power cut.",
        low="5 s",
        high="15 min",
    )
    keep_fine_days: int = setting(
        400,
        "Days for which five-minute readings are kept before they are thinned to hourly means.",
        smaller="Smaller file.",
        larger="Finer look back.",
        low=30,
        high=4000,
    )


class Mqtt(Section):
    """[mqtt]: where the status is published. Leave the section out to publish nothing."""

    host: Host = setting("localhost", "Name or address of the broker.")
    port: int = setting(1883, "TCP port of the broker; 8883 is usual with TLS.", low=1, high=65535)
    version: Literal["3.1.1", "5"] = setting("5", 'MQTT version the broker speaks: "3.1.1" or "5".')
    client_id: Account = setting("", 'Client identity; empty means "hypocaust-" and the site name.')
    user: Account = setting("", "User name at the broker; empty to connect without one.")
    password_file: OptionalFile = setting(
        "", "File that holds the password and nothing else, readable by the service only."
    )
    tls: bool = setting(False, "Whether to encrypt and to check the broker's certificate.")
    ca_file: OptionalFile = setting("", "Certificate authority to trust; empty means the system's.")
    publish_every_s: Seconds = setting(
        "1 min",
        "How often unchanged values are repeated; changes and alarms go out at once.",
        smaller="More traffic.",
        larger="Phones learn later that the house fell silent.",
        low="5 s",
        high="15 min",
    )
    outbox_limit: int = setting(
        500,
        "Messages kept while the broker is away; newest win.",
        smaller="Less memory.",
        larger="More alarms survive a long outage.",
        low=20,
        high=10000,
    )
