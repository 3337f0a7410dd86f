"""Which alarms report which fault. The one table to extend when a fault or a detection is added.

An empty row means *not monitored*: the signals of the house do not show it, or nobody needs to act.
"""

from __future__ import annotations

from controller.faults import FaultCode
from controller.simulator.plant.fault_kinds import FaultKind
from tests.lab.campaign.troubles import TroubleKind

Codes = tuple[FaultCode, ...]

_PROBE_LOST: Codes = (FaultCode.PROBE, FaultCode.CEILING_UNKNOWN, FaultCode.SOIL_UNKNOWN, FaultCode.BUS)
_PROBE_ASTRAY: Codes = (
    FaultCode.PROBE_OFF,
    FaultCode.PROBE_IN_SUN,
    FaultCode.PROBE,
    FaultCode.CEILING_UNKNOWN,
    FaultCode.SOIL_UNKNOWN,
)
_BUS: Codes = (FaultCode.BUS, FaultCode.CEILING_UNKNOWN, FaultCode.SOIL_UNKNOWN)
_NOT_PUMPING: Codes = (FaultCode.SUMP_NOT_EMPTYING, FaultCode.PUMP_SLOW, FaultCode.PUMP_CYCLING)
_WEAK_LOOP: Codes = (FaultCode.FAN_NO_EFFECT, FaultCode.TUBES_SHUT, FaultCode.LOOP_WEAK)

EXPECTED: dict[FaultKind | TroubleKind, Codes] = {
    FaultKind.PROBE_SILENT: _PROBE_LOST,
    FaultKind.PROBE_STUCK: _PROBE_LOST,
    FaultKind.PROBE_POWER_ON: _PROBE_LOST,
    FaultKind.PROBE_NO_POWER: _PROBE_LOST,
    FaultKind.PROBE_ALL_ZERO: _PROBE_LOST,
    FaultKind.PROBE_NOISY: _PROBE_LOST,
    FaultKind.PROBE_DRIFT: _PROBE_ASTRAY,
    FaultKind.PROBE_OFFSET: _PROBE_ASTRAY,
    FaultKind.PROBE_SWAPPED: _PROBE_ASTRAY,
    FaultKind.PROBE_IN_SUN: _PROBE_ASTRAY,
    FaultKind.BUS_SILENT: _BUS,
    FaultKind.BUS_SHORTED: _BUS,
    FaultKind.BUS_HUNG: _BUS,
    FaultKind.FLOAT_STUCK_WET: (FaultCode.SUMP_NOT_EMPTYING, FaultCode.FLOAT),
    FaultKind.FLOAT_STUCK_DRY: (FaultCode.SUMP_QUIET, FaultCode.TUBES_SHUT, FaultCode.HIGH_WATER),
    FaultKind.FLOAT_WIRE_CUT: (FaultCode.SUMP_NOT_EMPTYING, FaultCode.FLOAT, FaultCode.SUMP_QUIET),
    FaultKind.FLOAT_UNREADABLE: (FaultCode.FLOAT,),
    FaultKind.FLOAT_CHATTER: (FaultCode.FLOAT_CHATTER, FaultCode.FLOAT, FaultCode.SUMP_NOT_EMPTYING),
    FaultKind.PUMP_DEAD: (*_NOT_PUMPING, FaultCode.PUMP_STANDS),
    FaultKind.PUMP_CLOGGED: _NOT_PUMPING,
    FaultKind.PUMP_WELDED: (FaultCode.SUMP_QUIET, FaultCode.PUMP_UNASKED),
    FaultKind.CHECK_VALVE_LEAKS: (FaultCode.WATER_RETURNS, FaultCode.PUMP_CYCLING),
    FaultKind.DISCHARGE_FROZEN: _NOT_PUMPING,
    FaultKind.FAN_DEAD: (*_WEAK_LOOP, FaultCode.FAN_STANDS),
    FaultKind.FAN_BLOCKED: _WEAK_LOOP,
    FaultKind.FAN_WELDED: (FaultCode.FAN_UNASKED,),
    FaultKind.FAN_SWAPPED: (FaultCode.FAN_SWAPPED, FaultCode.FAN_NO_EFFECT),
    FaultKind.TUBES_SILTED: _WEAK_LOOP,
    FaultKind.OUTPUT_DEAF: (FaultCode.OUTPUT,),
    FaultKind.CLOUDBURST: (),
    FaultKind.DOOR_LEFT_OPEN: (FaultCode.HOUSE_OPEN,),
    FaultKind.SUPPLY_GONE: (FaultCode.SUPPLY_GONE, *_WEAK_LOOP, *_NOT_PUMPING),
    FaultKind.VOLTAGE_LOW: (FaultCode.VOLTAGE_LOW,),
    TroubleKind.POWER_CUT: (),
    TroubleKind.CRASH: (),
    TroubleKind.CRASH_LOOP: (FaultCode.RESTARTS,),
    TroubleKind.CLOCK_STEP: (),
    TroubleKind.CLOCK_UNSET: (FaultCode.CLOCK,),
    TroubleKind.MEMORY_DAMAGED: (FaultCode.STORAGE,),
    TroubleKind.MEMORY_LOST: (),
    TroubleKind.CARD_UNWRITABLE: (FaultCode.STORAGE,),
    TroubleKind.RUNTIME_UNWRITABLE: (FaultCode.STORAGE,),
    TroubleKind.SETTINGS_CHANGED: (),
    TroubleKind.SETTINGS_BAD: (FaultCode.SETTINGS_REJECTED,),
    TroubleKind.SETTINGS_CONTRADICTORY: (FaultCode.SETTINGS_REJECTED,),
    TroubleKind.SETTINGS_GONE: (FaultCode.SETTINGS_REJECTED,),
    TroubleKind.WATCHER_RAISES: (),
    TroubleKind.HISTORY_UNWRITABLE: (FaultCode.STORAGE,),
    TroubleKind.HISTORY_HANGS: (FaultCode.STORAGE,),
    TroubleKind.BROKER_DOWN: (FaultCode.LINK,),
    TroubleKind.FIRE: (FaultCode.FIRE, FaultCode.FIRE_ONE_PROBE),
    TroubleKind.STALL: (FaultCode.OUTPUT,),
}
