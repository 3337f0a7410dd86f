"""The nine bytes a DS18B20 thermometer answers with, and what they say.

Sources: DS18B20 data sheet (memory map, temperature and configuration register, CRC); Linux
``Documentation/w1/slaves/w1_therm.rst`` and ``drivers/w1/slaves/w1_therm.c`` (text of ``w1_slave``, error
values, arithmetic); Maxim application note 27 (the CRC).
"""

from __future__ import annotations

import re
from typing import Final

from controller.readings.reading import Why

CRC_POLYNOMIAL: Final = 0x8C  # X^8 + X^5 + X^4 + 1, least significant bit first (application note 27)
POWER_ON_RAW: Final = 0x0550  # 85 °C, what the chip holds before its first conversion (data sheet)
NO_POWER_RAW: Final = 0x07FF  # 127.94 °C, what it holds when the supply gave out on the way (w1_therm.rst)
NOT_CONVERTED: Final = 0x0C  # byte 6 beside either of them marks an error, alone nothing (w1_therm.rst)
ALL_ZERO: Final = bytes(9)
ALL_ONES: Final = b"\xff" * 9
W1_SLAVE_LINES: Final = 2

_FIRST_LINE = re.compile(r"((?:[0-9a-f]{2} ){9}): crc=[0-9a-f]{2} (YES|NO)")


def crc8(data: bytes) -> int:
    """The checksum of the 1-wire bus; over data followed by its own checksum it is zero."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ CRC_POLYNOMIAL if crc & 1 else crc >> 1
    return crc


def temperature_c(scratchpad: bytes) -> float:
    """The temperature in nine bytes that have been checked, rounded as the kernel rounds it.

    The kernel cuts thousandths of a degree toward zero: raw −1 is −0.062 °C. Bit 7 of byte 4 marks a
    clone that measures in sixty-fourths and keeps the last two bits in byte 4
    (``w1_DS18B20_convert_temp`` in w1_therm.c).
    """
    raw = scratchpad[0] | scratchpad[1] << 8
    steps_per_degree = 16
    if scratchpad[4] & 0x80:
        raw = (raw << 2 | scratchpad[4] & 3) & 0xFFFF
        steps_per_degree = 64
    if raw & 0x8000:
        raw -= 0x10000
    return int(raw * 1000 / steps_per_degree) / 1000.0


def decode(scratchpad: bytes) -> float | Why:
    """The temperature in °C, or why these nine bytes hold none.

    Nine zeros pass the checksum and would read as 0.000 °C: that is a data line pulled to ground. Nine
    ones are a line that nobody pulls down. The kernel tests for its two error values only where it
    converts one probe by itself, not after a conversion of all probes at once, so they are tested here
    again.
    """
    if scratchpad == ALL_ZERO:
        return Why.ALL_ZERO
    if scratchpad == ALL_ONES:
        return Why.SILENT
    if len(scratchpad) != len(ALL_ZERO) or crc8(scratchpad) != 0:
        return Why.NOISY
    raw = scratchpad[0] | scratchpad[1] << 8
    if scratchpad[6] == NOT_CONVERTED:
        if raw == POWER_ON_RAW:
            return Why.POWER_ON
        if raw == NO_POWER_RAW:
            return Why.NO_POWER
    return temperature_c(scratchpad)


def scratchpad_from_text(text: str) -> bytes | Why:
    """The nine bytes out of the kernel's ``w1_slave`` file, or why they are missing.

    Only the first line counts: the second repeats the bytes of the last *good* read and a temperature
    that the kernel prints even after a failed checksum. The kernel's verdict NO is taken as it is, but
    nine equal bytes are handed on, because they distinguish a shorted or dead line from a noisy one.
    """
    lines = text.split("\n")
    if len(lines) < W1_SLAVE_LINES or not lines[0] or not lines[1]:
        return Why.SILENT
    match = _FIRST_LINE.fullmatch(lines[0])
    if match is None:
        return Why.NOISY
    scratchpad = bytes.fromhex(match[1])
    if match[2] == "NO" and scratchpad not in (ALL_ZERO, ALL_ONES):
        return Why.NOISY
    return scratchpad
