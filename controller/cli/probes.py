"""``hypocaust probes``: what hangs on the 1-wire bus, ready to be pasted into the settings file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TextIO

from controller.clock import SystemClock
from controller.readings.reading import RawFailure
from controller.sensors.onewire import OneWireBus

if TYPE_CHECKING:
    from controller.sensors.onewire import ListedProbe

SUPPORTED_PART: Final = "DS18B20"
NOTHING_FOUND: Final = 2  # exit code


def probes(w1_devices: str, out: TextIO) -> int:
    """List the thermometers on the bus, read each of them once and say what to write into the settings.

    Args:
        w1_devices: the kernel's directory of 1-wire devices.
        out: where the list goes; all of it but NAME and PLACE is valid in a settings file.

    Returns:
        The exit code: 0, or 2 if there is no bus or nothing on it.
    """
    bus = OneWireBus(w1_devices, SystemClock())
    try:
        listed = bus.listed()
    except OSError as error:
        print(
            f"No 1-wire bus at {w1_devices}: {error.strerror or error}. Expected the kernel's directory of "
            "1-wire devices. Enable 1-wire on the board (on most: dtoverlay=w1-gpio in config.txt), restart "
            "it and try again.",
            file=out,
        )
        return NOTHING_FOUND
    if not listed:
        print(
            f"The 1-wire bus at {w1_devices} is there, but no thermometer answers on it. "
            "Check the plug, the 4.7 kΩ pull-up resistor, and that data and ground are not swapped.",
            file=out,
        )
        return NOTHING_FOUND
    for probe in listed:
        print(_entry(bus, probe), file=out)
    return 0


def _entry(bus: OneWireBus, probe: ListedProbe) -> str:
    """One probe as a comment with what it reads now, and its lines for the settings file."""
    if probe.part != SUPPORTED_PART:
        return f"# {probe.probe_id} is a {probe.part}; only the {SUPPORTED_PART} can be used here.\n"
    sample = bus.read(probe.probe_id)
    now = sample.why.value if isinstance(sample, RawFailure) else f"reads {sample.value_c:.1f} °C now"
    return f'# {probe.probe_id} {now}.\n[probes.NAME]\nid = "{probe.probe_id}"\nplace = "PLACE"\n'
