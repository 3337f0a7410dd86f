"""Tables on what the house should be like, when it is in danger, and when a sensor is believed."""

from controller.settings.schema.section import Section, setting
from controller.settings.schema.values import Celsius, Kelvin, KelvinPerSecond, Seconds


class Setpoints(Section):
    """[setpoints]: what the air and the soil may do."""

    frost_limit_c: Celsius = setting(
        "2 °C",
        "Below this the crop is in danger: every loop returns its warmth. Nights that will pass it are "
        "announced in the evening; one that was not, or gets colder than announced, calls a person.",
        smaller="Later alarm.",
        larger="Earlier alarm and earlier help, more fan hours.",
        low="-10 °C",
        high="15 °C",
    )
    hard_frost_c: Celsius = setting(
        "-3 °C",
        "Below this air temperature a person is called at once, even if the evening has announced it. At or "
        "above `frost_limit` every frosty night calls.",
        smaller="Fewer calls at night for a crop that bears frost.",
        larger="More calls, also in nights that were announced.",
        low="-20 °C",
        high="10 °C",
    )
    heat_below_c: Celsius = setting(
        "4.5 °C",
        "Below this air temperature warmth is returned from the soil, by one loop after the other.",
        smaller="Warmth is kept for the coldest hours; plants run cooler.",
        larger="Warmer nights, but the store can be empty when the frost comes.",
        low="-5 °C",
        high="25 °C",
    )
    comfort_floor_c: Celsius = setting(
        "5 °C",
        "Heat is banked only while the bench air stays above this.",
        smaller="More heat is banked, cool days stay cooler.",
        larger="Warmer days for crop and people, less heat for the nights.",
        low="0 °C",
        high="30 °C",
    )
    cooling: bool = setting(
        True,
        "Whether the fans also cool a hot house into the soil, be that heat wanted later or not.",
    )
    cool_above_c: Celsius = setting(
        "32 °C",
        "Bench temperature from which the fans cool the house into the soil, if `cooling` is true; without a "
        "bench probe that can be read the ceiling counts. Of five tomatoes four set no fruit at 32 °C "
        "by day and 26 °C by night (Sato, Peet & Thomas 2000, Plant Cell Environ. 23:719-726).",
        smaller="Cooler days, more fan hours in summer, and soil that is warmer when the hottest days come.",
        larger="Warmer days, fewer fan hours; doors, vents and shade have to do more.",
        low="15 °C",
        high="45 °C",
    )
    night_purge: bool = setting(
        False,
        "Whether the fans also blow by night, in a warm season, to cool soil that is too warm to cool the "
        "next day. It takes a little more off hot days and costs a good deal more electricity.",
    )
    air_deadband_k: Kelvin = setting(
        "1 K",
        "How far the air must come back past a setpoint before its demand ends.",
        smaller="Fans follow the setpoint closely and start more often.",
        larger="Fewer starts, the air swings further.",
        low="0.2 K",
        high="5 K",
    )
    too_hot_c: Celsius = setting(
        "40 °C",
        "Bench temperature above which a person is called: the crop suffers and vents must open.",
        smaller="The alarm comes earlier on hot days.",
        larger="The alarm comes later.",
        low="25 °C",
        high="60 °C",
    )
    root_zone_max_c: Celsius = setting(
        "26 °C",
        "No heat is banked while the root zone is at or above this: banking is a luxury. Tomatoes yield most "
        "with roots at 24 °C (tried from 12 to 36 °C: Gosselin & Trudel, J. Am. Soc. Hort. Sci., on air and "
        "root temperatures of greenhouse tomato).",
        smaller="Cooler roots, less storage.",
        larger="More storage, warmer roots.",
        low="10 °C",
        high="40 °C",
    )
    root_zone_rescue_max_c: Celsius = setting(
        "36 °C",
        "No heat goes into the soil at all, not even to cool a hot house, while the root zone is at or above "
        "this: cooling is a rescue and may go on beyond root_zone_max. 36 °C is the warmest that Gosselin & "
        "Trudel kept roots of tomato. What roots bear depends on the crop (a review: Kawasaki & Yoneda 2019, "
        "Hort. J. 88(3):305-314).",
        smaller="Cooler roots on hot days, a hotter crop.",
        larger="A cooler crop on hot days, warmer roots.",
        low="10 °C",
        high="40 °C",
    )
    root_zone_min_c: Celsius = setting(
        "-2 °C",
        "No heat is taken from the soil while the root zone is at or below this. In a freezing house the air "
        "chills the roots more than the fans do; tender roots need a higher limit.",
        smaller="More warmth can be taken back, cooler roots.",
        larger="Warmer roots, less help on cold nights.",
        low="-5 °C",
        high="25 °C",
    )
    root_zone_deadband_k: Kelvin = setting(
        "0.5 K",
        "How far the root zone must come back before its limit no longer holds.",
        smaller="The fans may run again sooner.",
        larger="The fans wait longer; fewer starts.",
        low="0.1 K",
        high="3 K",
    )


class Fire(Section):
    """[fire]: what stops every fan, in a fire until a person clears it. Not a fire alarm system."""

    level_c: Celsius = setting(
        "65 °C",
        "Any air probe at or above this stops every fan; two of them, or one that also rises fast, are a "
        "fire. Set it above the hottest sunny day of the site.",
        smaller="Sunny days may trip it.",
        larger="Reacts later.",
        low="50 °C",
        high="85 °C",
    )
    rise_k_s: KelvinPerSecond = setting(
        "5 K/min",
        "A rise this fast, held for the time below, stops every fan.",
        smaller="Sun after cloud may trip it.",
        larger="Reacts later.",
        low="2 K/min",
        high="20 K/min",
    )
    rise_for_s: Seconds = setting(
        "2 min",
        "How long the rise must last.",
        smaller="Trips on short bursts.",
        larger="Reacts later.",
        low="1 min",
        high="10 min",
    )
    clear_pin: int | None = setting(
        None,
        "The GPIO number (BCM) of a push-button to ground at the box: let go after 3 s, it clears a latched "
        "fire whose signature is gone. Leave it out without such a button; a change needs a restart.",
        low=0,
        high=27,
        example="13",
    )


class Judging(Section):
    """[judging]: when a sample is believed and how long a reading holds."""

    air_hold_s: Seconds = setting(
        "5 min",
        "How long the last good air temperature may be used.",
        smaller="Fans stop sooner when a probe falls silent.",
        larger="Fans run longer on old readings.",
        low="1 min",
        high="15 min",
    )
    soil_hold_s: Seconds = setting(
        "6 h",
        "How long the last good soil or root-zone temperature may be used; soil moves slowly.",
        smaller="A silent soil probe stops its fan sooner.",
        larger="The fan runs longer on old readings.",
        low="10 min",
        high="24 h",
    )
    air_jump_k: Kelvin = setting(
        "10 K",
        "A change larger than this from one sample to the next is ignored unless the next one confirms it.",
        smaller="Ignores true changes.",
        larger="Believes more false ones.",
        low="3 K",
        high="40 K",
    )
    soil_jump_k: Kelvin = setting(
        "3 K",
        "The same, for soil and root-zone probes.",
        smaller="Ignores true changes.",
        larger="Believes more false ones.",
        low="0.5 K",
        high="20 K",
    )
    air_stuck_s: Seconds = setting(
        "6 h",
        "An air probe that shows the same last digit for this long while others move is not believed.",
        smaller="Calm nights look like a fault.",
        larger="A frozen probe is found later.",
        low="1 h",
        high="48 h",
    )
    soil_stuck_s: Seconds = setting(
        "14 d",
        "The same, for soil and root-zone probes.",
        smaller="Calm soil looks like a fault.",
        larger="A frozen probe is found later.",
        low="1 d",
        high="60 d",
    )
    vote_spread_k: Kelvin = setting(
        "6 K",
        "Probes of one place that differ by more than this are in dispute; the odd one out is not believed.",
        smaller="Disputes over sun patches.",
        larger="A drifting probe stays in the vote.",
        low="1 K",
        high="20 K",
    )
