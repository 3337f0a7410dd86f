"""Settings that contradict one another, and what is said of them."""

from __future__ import annotations

from tests.settings.edit import HOUSE_TEXT, value_at

# Values put into the sample house, the key blamed, the whole message.
CONFLICTS = [
    (
        {"house.tube_bed": '"sand"', "house.tube_bed_thickness": '"80 mm"'},
        "house.tube_bed_thickness",
        (
            "the bed of the tubes is 80 mm thick and those of north are 80 mm wide; "
            "expected a bed thicker than the tubes in it"
        ),
    ),
    (
        {"house.tube_bed": '"sand"', "house.tube_bed_thickness": '"1.6 m"'},
        "house.tube_bed_thickness",
        (
            "the bed of the tubes is 1.6 m thick and those of north lie 0.8 m deep; "
            "expected less than twice that depth, because the bed reaches as far up as down"
        ),
    ),
    (
        {"setpoints.heat_below": '"25 °C"', "setpoints.cool_above": '"25 °C"'},
        "setpoints.heat_below",
        (
            "setpoints.heat_below is 25 °C and setpoints.cool_above is 25 °C; "
            "expected the first to be below the second, or it would be heated and cooled at once"
        ),
    ),
    (
        {"setpoints.frost_limit": '"6 °C"', "setpoints.heat_below": '"5 °C"'},
        "setpoints.frost_limit",
        (
            "setpoints.frost_limit is 6 °C and setpoints.heat_below is 5 °C; "
            "expected the first to be at most the second, "
            "because heating must begin before the crop is in danger"
        ),
    ),
    (
        {"setpoints.frost_limit": '"43 °F"', "setpoints.heat_below": '"5 °C"'},
        "setpoints.frost_limit",
        (
            "setpoints.frost_limit is 43 °F and setpoints.heat_below is 5 °C; "
            "expected the first to be at most the second, "
            "because heating must begin before the crop is in danger"
        ),
    ),
    (
        {"setpoints.comfort_floor": '"29 °C"', "setpoints.cool_above": '"28.5 °C"'},
        "setpoints.comfort_floor",
        (
            "setpoints.comfort_floor is 29 °C and setpoints.cool_above is 28.5 °C; "
            "expected the first to be at most the second, or no heat could be banked before cooling begins"
        ),
    ),
    (
        {"setpoints.root_zone_min": '"25 °C"', "setpoints.root_zone_max": '"25 °C"'},
        "setpoints.root_zone_min",
        (
            "setpoints.root_zone_min is 25 °C and setpoints.root_zone_max is 25 °C; "
            "expected the first to be below the second, "
            "or the soil could be neither charged nor discharged"
        ),
    ),
    (
        {"fans.difference_deadband": '"5 K"', "fans.useful_difference": '"5 K"'},
        "fans.difference_deadband",
        (
            "fans.difference_deadband is 5 K and fans.useful_difference is 5 K; "
            "expected the first to be below the second, or a running fan would never stop"
        ),
    ),
    (
        {"fans.purge": '"11 min"', "fans.minimum_run": '"659.5 s"'},
        "fans.purge",
        (
            "fans.purge is 11 min and fans.minimum_run is 659.5 s; "
            "expected the first to be at most the second, "
            "or a run could end before its outlet has been judged"
        ),
    ),
    (
        {"fans.back_off": '"6 h"', "fans.longest_back_off": '"5 h"'},
        "fans.back_off",
        (
            "fans.back_off is 6 h and fans.longest_back_off is 5 h; "
            "expected the first to be at most the second, because the doubling starts from it"
        ),
    ),
    (
        {"pump.drain_down": '"1 min"', "pump.run_on": '"2 min"'},
        "pump.run_on",
        (
            "pump.run_on is 2 min and pump.drain_down is 1 min; "
            "expected the first to be at most the second, "
            "or fans could start while the pump is still running on"
        ),
    ),
    (
        {"pump.exercise_run": '"20 s"', "pump.run_on": '"10 s"'},
        "pump.exercise_run",
        (
            "pump.exercise_run is 20 s and pump.run_on is 10 s; "
            "expected the first to be at most the second, "
            "because both run the pump with little or no water"
        ),
    ),
    (
        {"pump.minimum_rest": '"2.5 min"', "pump.rest": '"2.4 min"'},
        "pump.minimum_rest",
        (
            "pump.minimum_rest is 2.5 min and pump.rest is 2.4 min; "
            "expected the first to be at most the second, "
            "because the rest after a longest run is never the shorter one"
        ),
    ),
    (
        {"fire.level": '"50 °C"', "setpoints.too_hot": '"50 °C"'},
        "setpoints.too_hot",
        (
            "setpoints.too_hot is 50 °C and fire.level is 50 °C; "
            "expected the first to be below the second, or a hot day would count as a fire"
        ),
    ),
    (
        {"service.lease": '"0.4 min"', "service.tick": '"0.2 min"'},
        "service.lease",
        (
            "the lease is 0.4 min and the tick is 0.2 min; "
            "expected more than two ticks, or one late tick would put every output off"
        ),
    ),
    (
        {"judging.air_hold": '"1 min"', "board.sample_every": '"0.51 min"'},
        "judging.air_hold",
        (
            "an air reading holds for 1 min and a new one comes every 0.51 min; "
            "expected it to hold for at least two samples, or one lost sample would stop the fans"
        ),
    ),
    (
        {"loops.south.fan_pin": "17"},
        "loops.south.fan_pin",
        "pin 17 is already used by loops.north.fan_pin; expected a pin of its own",
    ),
    (
        {"sumps.main.float_pin": "23"},
        "sumps.main.pump_pin",
        "pin 23 is already used by sumps.main.float_pin; expected a pin of its own",
    ),
    (
        {"sumps.main.pump_pin": "27"},
        "sumps.main.pump_pin",
        "pin 27 is already used by loops.middle.fan_pin; expected a pin of its own",
    ),
    (
        {"sumps.main.pump_pin": "4"},
        "sumps.main.pump_pin",
        "pin 4 is the line of the 1-wire probes; expected another, best one from 16 to 27",
    ),
    (
        {"sumps.main.float_pin": "4"},
        "sumps.main.float_pin",
        "pin 4 is the line of the 1-wire probes; expected another, best one from 16 to 27",
    ),
    (
        {"sumps.main.pump_pin": "0"},
        "sumps.main.pump_pin",
        (
            "pin 0 is driven by the firmware at start to identify add-on boards; "
            "expected another, best one from 16 to 27"
        ),
    ),
    (
        {"sumps.main.pump_pin": "1"},
        "sumps.main.pump_pin",
        (
            "pin 1 is driven by the firmware at start to identify add-on boards; "
            "expected another, best one from 16 to 27"
        ),
    ),
    (
        {"loops.south.fan_pin": "14"},
        "loops.south.fan_pin",
        (
            "pin 14 carries the serial console, which goes high while the board starts; "
            "expected another, best one from 16 to 27"
        ),
    ),
    (
        {"sumps.main.float_pin": "14"},
        "sumps.main.float_pin",
        (
            "pin 14 carries the serial console, which goes high while the board starts; "
            "expected another, best one from 16 to 27"
        ),
    ),
    (
        {"loops.south.fan_pin": "15"},
        "loops.south.fan_pin",
        "pin 15 carries the serial console while the board starts; expected another, best one from 16 to 27",
    ),
    (
        {"probes.ceiling-east.id": value_at(HOUSE_TEXT, "probes.ceiling-west.id")},
        "probes.ceiling-east.id",
        value_at(HOUSE_TEXT, "probes.ceiling-west.id").strip('"')
        + " is already probes.ceiling-west; expected a probe of its own",
    ),
    (
        {"probes.outdoor.place": '"soil"'},
        "probes.outdoor.place",
        (
            'a probe at "soil" belongs to a loop and none is named; '
            'expected loop = "middle" or "north" or "south"'
        ),
    ),
    (
        {"probes.outdoor.place": '"outlet"'},
        "probes.outdoor.place",
        (
            'a probe at "outlet" belongs to a loop and none is named; '
            'expected loop = "middle" or "north" or "south"'
        ),
    ),
    (
        {"probes.outdoor.place": '"outdoor"\nloop = "north"'},
        "probes.outdoor.loop",
        'a probe at "outdoor" belongs to the whole house; expected no loop here',
    ),
    (
        {"probes.outdoor.place": '"outlet"\nloop = "west"'},
        "probes.outdoor.loop",
        'there is no [loops.west]; expected "middle" or "north" or "south"',
    ),
    (
        {"probes.north-soil.place": '"root-zone"'},
        "loops.north",
        (
            "no probe measures the soil of this loop; "
            'expected at least one with place = "soil" and loop = "north"'
        ),
    ),
    (
        {"mqtt.password_file": '"/etc/hypocaust/password"'},
        "mqtt.password_file",
        "a password without a user is never sent; expected user as well",
    ),
    (
        {"pump.rest": '"2.9 min"', "pump.longest_run": '"28 min"'},
        "pump.rest",
        (
            "pump.rest is 2.9 min and pump.longest_run is 28 min; expected the first to be at most a "
            "tenth of the second, or water would rise while the pump stands still"
        ),
    ),
    (
        {"house.heater_below": '"25 °C"', "house.vents_open_above": '"25 °C"'},
        "house.heater_below",
        (
            "house.heater_below is 25 °C and house.vents_open_above is 25 °C; "
            "expected the first to be below the second, or the backup heater would heat against open vents"
        ),
    ),
    (
        {
            "house.tube_bed": '"sand"',
            "house.tube_bed_thickness": '"85 mm"',
            "loops.middle.tube_diameter": '"85 mm"',
        },
        "house.tube_bed_thickness",
        (
            "the bed of the tubes is 85 mm thick and those of middle are 85 mm wide; "
            "expected a bed thicker than the tubes in it"
        ),
    ),
    (
        {"house.tube_bed": '"sand"', "house.tube_bed_thickness": '"1.5 m"', "loops.south.depth": '"0.75 m"'},
        "house.tube_bed_thickness",
        (
            "the bed of the tubes is 1.5 m thick and those of south lie 0.75 m deep; "
            "expected less than twice that depth, because the bed reaches as far up as down"
        ),
    ),
]
