"""The nine bytes of a DS18B20: published frames, error marks and everything that is no frame."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.readings.reading import Why
from controller.readings.scratchpad import crc8, decode, scratchpad_from_text, temperature_c

# Frames of real chips from public reports (kernel mailing list; the DS18B20 clone survey of C. Petrich's
# repository, issues 22 and 40), and the data sheet's temperature table in a genuine chip's frame.
TEMPERATURES = {
    "70 01 4b 46 7f ff 10 10 e1": 23.0,
    "f4 00 4b 46 7f ff 0c 10 fa": 15.25,
    "f3 00 4b 46 7f ff 0d 10 ee": 15.187,
    "f6 00 4b 46 7f ff 0a 10 d6": 15.375,
    "73 01 4b 46 7f ff 0d 10 41": 23.187,
    "4b 01 4b 46 7f ff 05 10 e1": 20.687,
    "90 fc 4b 46 7f ff 10 10 ee": -55.0,
    "5e ff 4b 46 7f ff 02 10 b6": -10.125,
    "f8 ff 4b 46 7f ff 08 10 f8": -0.5,
    "00 00 4b 46 7f ff 10 10 69": 0.0,
    "91 01 4b 46 7f ff 0f 10 25": 25.062,
    "50 05 4b 46 7f ff 10 10 bd": 85.0,
    "d0 07 4b 46 7f ff 10 10 55": 125.0,
}
TROUBLES = {
    "50 05 4b 46 7f ff 0c 10 1c": Why.POWER_ON,
    "ff 07 4b 46 7f ff 0c 10 a6": Why.NO_POWER,
    "00 00 00 00 00 00 00 00 00": Why.ALL_ZERO,
    "ff ff ff ff ff ff ff ff ff": Why.SILENT,
    "a1 01 4b 46 7f ff 0c 10 5c": Why.NOISY,  # a frame often seen in public examples; its checksum is wrong
}


def with_crc(first_eight: bytes) -> bytes:
    """A frame with its right checksum."""
    return first_eight + bytes([crc8(first_eight)])


def test_checksum_of_the_published_examples() -> None:
    """The CRC gives application note 27's example and the usual check string's value."""
    assert crc8(bytes.fromhex("021cb801000000")) == 0xA2
    assert crc8(b"123456789") == 0xA1
    assert crc8(bytes.fromhex("28f3b0b99a230b")) == 0x8E


@pytest.mark.parametrize(("frame", "value_c"), TEMPERATURES.items())
def test_frames_with_a_temperature(frame: str, value_c: float) -> None:
    """Real frames give the temperature the kernel prints for them, also a true 85 °C and a true 0 °C."""
    assert decode(bytes.fromhex(frame)) == value_c


@pytest.mark.parametrize(("frame", "why"), TROUBLES.items())
def test_frames_without_a_temperature(frame: str, why: Why) -> None:
    """A frame that holds no measurement says why."""
    assert decode(bytes.fromhex(frame)) is why


def test_the_kernel_cuts_toward_zero() -> None:
    """Raw −1 is −0.062 °C and not −0.063 °C, as the kernel's integer division has it."""
    assert temperature_c(bytes.fromhex("ffff4b467fff011000")) == -0.062


def test_fourteen_bit_clone() -> None:
    """With bit 7 of the configuration byte set, two more bits of the temperature stand in that byte."""
    assert temperature_c(bytes.fromhex("91014b46ffff0f1000")) == 25.109  # (0x191 * 4 + 3) / 64 = 25.109375
    assert temperature_c(bytes.fromhex("91014b4681ff0f1000")) == 25.078  # (0x191 * 4 + 1) / 64 = 25.078125
    assert temperature_c(bytes.fromhex("ffff4b46ffff0f1000")) == -0.015  # −1 / 64 = −0.015625


@given(st.integers(-55 * 16, 125 * 16))
def test_every_temperature_survives(raw: int) -> None:
    """Any temperature a genuine chip can send comes back within a thousandth of a degree."""
    marker = 0x10 - (raw & 0x0F)
    frame = with_crc((raw & 0xFFFF).to_bytes(2, "little") + bytes([0x4B, 0x46, 0x7F, 0xFF, marker, 0x10]))
    value = decode(frame)
    assert isinstance(value, float)
    assert abs(value - raw / 16) < 0.001


@given(st.sampled_from(sorted(TEMPERATURES)), st.integers(0, 71))
def test_one_flipped_bit_is_always_noticed(frame: str, bit: int) -> None:
    """No single wrong bit gets past the checksum."""
    damaged = bytearray.fromhex(frame)
    damaged[bit // 8] ^= 1 << bit % 8
    assert decode(bytes(damaged)) is Why.NOISY


@given(st.binary(max_size=12).filter(lambda data: len(data) != 9))
def test_wrong_length_is_noise(data: bytes) -> None:
    """Anything but nine bytes is no answer of a DS18B20."""
    assert decode(data) is Why.NOISY


def test_first_line_counts_and_not_the_second() -> None:
    """The second line repeats an older read, so the bytes are taken from the first."""
    text = "70 01 4b 46 7f ff 10 10 e1 : crc=e1 YES\n4b 01 4b 46 7f ff 05 10 e1 t=20687\n"
    assert scratchpad_from_text(text) == bytes.fromhex("70014b467fff1010e1")


def test_a_last_line_end_is_not_needed() -> None:
    """Two lines are an answer whether or not the second is ended."""
    frame = "70 01 4b 46 7f ff 10 10 e1"
    assert scratchpad_from_text(f"{frame} : crc=e1 YES\n{frame} t=23000") == bytes.fromhex(frame)


def test_verdict_no_is_noise_although_a_temperature_follows() -> None:
    """After a failed checksum the kernel still prints a temperature; it is not used."""
    frame = "70 01 4b 46 7f ff 10 10 e1"
    assert scratchpad_from_text(f"{frame} : crc=00 NO\n{frame} t=23000\n") is Why.NOISY


@pytest.mark.parametrize("verdict", ["YES", "NO"])
def test_nine_zeros_are_recognised_whatever_the_verdict(verdict: str) -> None:
    """Kernels differ in whether nine zeros pass; both ways they are handed on to be named."""
    zeros = "00 " * 9
    assert scratchpad_from_text(f"{zeros}: crc=00 {verdict}\n{zeros}t=0\n") == bytes(9)


@pytest.mark.parametrize("text", ["", "\n", "70 01 4b 46 7f ff 10 10 e1 : crc=e1 YES", "x\n", "\nx\n"])
def test_short_text_is_silence(text: str) -> None:
    """An empty or cut-off file is a probe that did not answer."""
    assert scratchpad_from_text(text) is Why.SILENT


@given(st.text())
def test_any_text_is_survived(text: str) -> None:
    """Whatever stands in the file, the answer is bytes or a cause."""
    assert isinstance(scratchpad_from_text(text), bytes | Why)
