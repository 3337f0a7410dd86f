"""Tables on how fans and pumps are run and looked after."""

from controller.settings.schema.section import Section, setting
from controller.settings.schema.values import Kelvin, Seconds


class Fans(Section):
    """[fans]: when a loop's fan may run and how it is looked after."""

    useful_difference_k: Kelvin = setting(
        "2 K",
        "Ceiling minus soil temperature, from which on a fan is worth starting to bank heat.",
        smaller="More heat moved for more electricity.",
        larger="Only the best hours are used.",
        low="1 K",
        high="20 K",
    )
    cooling_difference_k: Kelvin = setting(
        "5 K",
        "Ceiling minus soil temperature, from which on a fan is worth starting to cool a hot house.",
        smaller="A little cooler days for much more electricity.",
        larger="Only the best hours are used.",
        low="1 K",
        high="20 K",
    )
    night_purge_difference_k: Kelvin = setting(
        "5 K",
        "Soil minus ceiling temperature, from which on a fan is worth starting by night, if `night_purge` is "
        "true.",
        smaller="Cooler soil for more electricity.",
        larger="Only the coolest hours are used.",
        low="1 K",
        high="20 K",
    )
    difference_deadband_k: Kelvin = setting(
        "1 K",
        "A fan that banks, cools or purges by night stops when its difference has shrunk by this.",
        smaller="Stops earlier, starts more often.",
        larger="Runs longer on a smaller difference.",
        low="0.5 K",
        high="10 K",
    )
    return_difference_k: Kelvin = setting(
        "0.5 K",
        "Soil minus air temperature (the colder of roof and bench), from which on a fan is worth starting to "
        "warm the house; it runs until half of that is left.",
        smaller="Helps the crop down to the last bit of warmth.",
        larger="Gives up earlier on a nearly empty store.",
        low="0.5 K",
        high="20 K",
    )
    return_spread_k: Kelvin = setting(
        "0.5 K",
        "How much colder than heat_below it must be before the last loop joins in returning warmth.",
        smaller="All loops start together and stop together.",
        larger="Mild nights are held by one loop, with fewer starts; the last loops help later.",
        low="0 K",
        high="5 K",
    )
    heat_per_watt: float = setting(
        4.0,
        "Heat expected for each watt of fan power, from which on a loop may start to bank or to cool; "
        "banking into warm soil, or late in the winter, needs up to eleven times as much.",
        smaller="Runs for less gain.",
        larger="Runs only when the gain is large.",
        low=1.0,
        high=50.0,
    )
    proven_heat_per_watt: float = setting(
        1.5,
        "Heat the outlet must prove for each watt after the purge time, or the fan stops.",
        smaller="Tolerates weak loops.",
        larger="Stops weak loops sooner.",
        low=0.0,
        high=20.0,
    )
    purge_s: Seconds = setting(
        "5 min",
        "Time after a start until the outlet shows what the tubes really deliver.",
        smaller="Judged before the tubes have settled.",
        larger="A useless run lasts longer.",
        low="1 min",
        high="30 min",
    )
    back_off_s: Seconds = setting(
        "30 min",
        "Pause after a run that moved no heat; doubled each time in a row.",
        smaller="Tries again sooner.",
        larger="Wastes less on a bad loop.",
        low="5 min",
        high="6 h",
    )
    longest_back_off_s: Seconds = setting(
        "8 h",
        "Longest pause the doubling may reach.",
        smaller="A bad loop is tried more often.",
        larger="A healed loop is found later.",
        low="30 min",
        high="48 h",
    )
    minimum_run_s: Seconds = setting(
        "20 min",
        "Shortest run of a fan; only a safety trip may cut it.",
        smaller="More starts.",
        larger="Fewer starts, more overrun.",
        low="1 min",
        high="60 min",
    )
    minimum_rest_s: Seconds = setting(
        "10 min",
        "Shortest pause between two runs of a fan.",
        smaller="Motor cools less between starts.",
        larger="Reacts later.",
        low="1 min",
        high="60 min",
    )
    starts_per_hour: int = setting(
        2,
        "Most starts of one fan in any hour.",
        smaller="Kinder to the motor.",
        larger="Reacts faster.",
        low=1,
        high=12,
    )
    stagger_s: Seconds = setting(
        "30 s",
        "Time between any two motor starts, so that inrush currents never add up.",
        smaller="All fans are on sooner.",
        larger="Gentler on the supply.",
        low="5 s",
        high="10 min",
    )
    run_in_frost_with_float_unreadable: bool = setting(
        False,
        "Whether a loop whose float cannot be read (not: reads wet) may still run at the frost limit, "
        "as long as its outlet proves within the purge time that air comes through.",
    )


class Pump(Section):
    """[pump]: how every sump pump is run and protected."""

    run_on_s: Seconds = setting(
        "20 s",
        "How long the pump keeps running after the float has fallen.",
        smaller="Less dry running, more starts.",
        larger="Empties the pit further, longer on little water.",
        low="5 s",
        high="2 min",
    )
    longest_run_s: Seconds = setting(
        "30 min",
        "Longest run in one go; then the pump rests, water or not.",
        smaller="More starts in a flood.",
        larger="Fewer starts in a flood; the motor gets warmer.",
        low="15 min",
        high="60 min",
    )
    rest_s: Seconds = setting(
        "2 min",
        "Rest after a run that reached the longest run; at most a tenth of it.",
        smaller="More water is moved.",
        larger="Motor cooler.",
        low="30 s",
        high="6 min",
    )
    minimum_rest_s: Seconds = setting(
        "2 min",
        "Shortest pause between two runs.",
        smaller="Empties the sump sooner.",
        larger="Kinder to the motor.",
        low="30 s",
        high="6 min",
    )
    starts_per_hour: int = setting(
        10,
        "Most starts in any hour, evenly spaced: with 10 a start comes at least 6 min after the last.",
        smaller="Kinder to the motor; water waits longer for a start.",
        larger="Copes with faster inflow.",
        low=4,
        high=20,
    )
    duty_run_s: Seconds = setting(
        "1 min",
        "Length of a run while the float cannot be read.",
        smaller="Less dry running.",
        larger="Keeps more inflow out.",
        low="10 s",
        high="3 min",
    )
    duty_rest_s: Seconds = setting(
        "14 min",
        "Rest between those runs on the first day; an hour from the second day on.",
        smaller="Keeps more inflow out.",
        larger="Less dry running.",
        low="10 min",
        high="60 min",
    )
    exercise_every_s: Seconds = setting(
        "7 d",
        "A pump that has not run for this long is run briefly so that it does not seize.",
        smaller="Exercised more often.",
        larger="May seize unnoticed.",
        low="1 d",
        high="60 d",
    )
    exercise_run_s: Seconds = setting(
        "5 s",
        "Length of that exercise run.",
        smaller="Less dry running.",
        larger="Surer to free the shaft.",
        low="1 s",
        high="20 s",
    )
    drain_down_s: Seconds = setting(
        "30 min",
        "Time after the float has fallen during which the tubes still count as wet.",
        smaller="Fans return sooner, perhaps into water.",
        larger="Fans return later.",
        low="1 min",
        high="12 h",
    )
