"""Reading DS18B20 probes from files in the kernel's format."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.readings.reading import RawFailure, RawTemperature, Why
from controller.sensors import onewire
from controller.sensors.onewire import ListedProbe, OneWireBus

if TYPE_CHECKING:
    from tests.sensors.conftest import HandClock, W1Files

PROBE = "28-0316a2795e1f"


def test_good_probe(w1: W1Files, clock: HandClock) -> None:
    """A good answer gives the temperature, the nine bytes and the time of the read."""
    w1.probe(PROBE, "91 01 4b 46 7f ff 0f 10 25", t=25062)
    sample = OneWireBus(w1.directory, clock).read(PROBE)
    assert sample == RawTemperature(25.062, 1000.0, bytes.fromhex("91014b467fff0f1025"))


def test_printed_temperature_is_not_used(w1: W1Files, clock: HandClock) -> None:
    """The temperature comes from the checked bytes, not from the number printed behind them."""
    w1.probe(PROBE, "91 01 4b 46 7f ff 0f 10 25", t=99000)
    sample = OneWireBus(w1.directory, clock).read(PROBE)
    assert isinstance(sample, RawTemperature)
    assert sample.value_c == 25.062


@pytest.mark.parametrize(
    ("frame", "verdict", "why"),
    [
        ("70 01 4b 46 7f ff 10 10 e1", "NO", Why.NOISY),
        ("70 01 4b 46 7f ff 10 10 e2", "YES", Why.NOISY),
        ("00 00 00 00 00 00 00 00 00", "YES", Why.ALL_ZERO),
        ("00 00 00 00 00 00 00 00 00", "NO", Why.ALL_ZERO),
        ("ff ff ff ff ff ff ff ff ff", "NO", Why.SILENT),
        ("50 05 4b 46 7f ff 0c 10 1c", "YES", Why.POWER_ON),
        ("ff 07 4b 46 7f ff 0c 10 a6", "YES", Why.NO_POWER),
    ],
)
def test_bad_answers(w1: W1Files, clock: HandClock, frame: str, verdict: str, why: Why) -> None:
    """Each way a probe can fail is distinguished."""
    w1.probe(PROBE, frame, verdict=verdict)
    assert OneWireBus(w1.directory, clock).read(PROBE) == RawFailure(why, 1000.0)


def test_true_85_passes(w1: W1Files, clock: HandClock) -> None:
    """A measured 85 °C is not taken for the power-on value."""
    w1.probe(PROBE, "50 05 4b 46 7f ff 10 10 bd")
    sample = OneWireBus(w1.directory, clock).read(PROBE)
    assert isinstance(sample, RawTemperature)
    assert sample.value_c == 85.0


@pytest.mark.parametrize("content", [b"", b"70 01 4b"])
def test_empty_or_short_file_is_silence(w1: W1Files, clock: HandClock, content: bytes) -> None:
    """The kernel hands out an empty file after a failed read: the probe is silent."""
    w1.text(PROBE, content)
    assert OneWireBus(w1.directory, clock).read(PROBE) == RawFailure(Why.SILENT, 1000.0)


def test_missing_probe_and_missing_bus_are_silence(w1: W1Files, clock: HandClock) -> None:
    """A probe or a whole bus that has vanished is silent, not an error."""
    assert OneWireBus(w1.directory, clock).read(PROBE) == RawFailure(Why.SILENT, 1000.0)
    assert OneWireBus(w1.directory / "gone", clock).read(PROBE) == RawFailure(Why.SILENT, 1000.0)


def test_read_error_is_silence(w1: W1Files, clock: HandClock) -> None:
    """An input-output error while reading is a silent probe."""
    (w1.directory / PROBE / "w1_slave").mkdir(parents=True)
    assert OneWireBus(w1.directory, clock).read(PROBE) == RawFailure(Why.SILENT, 1000.0)


def test_noise_is_asked_again_once(w1: W1Files, clock: HandClock, monkeypatch: pytest.MonkeyPatch) -> None:
    """One damaged answer is followed by a second read, whose good answer counts."""
    w1.probe(PROBE, verdict="NO")
    reads = []
    read_text = Path.read_text

    def then_good(file: Path, **kwargs: str) -> str:
        text = read_text(file, **kwargs)
        reads.append(file)
        w1.probe(PROBE)
        return text

    monkeypatch.setattr(Path, "read_text", then_good)
    sample = OneWireBus(w1.directory, clock).read(PROBE, 990.0)
    assert isinstance(sample, RawTemperature)
    assert len(reads) == 2
    assert sample.at_mono_s == 1000.0, "the second read made a conversion of its own"


@given(content=st.binary(max_size=200))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_in_the_file_are_survived(w1: W1Files, clock: HandClock, content: bytes) -> None:
    """Whatever a damaged bus or file system hands out, a read never raises and never invents a value."""
    w1.text(PROBE, content)
    assert isinstance(OneWireBus(w1.directory, clock).read(PROBE), RawFailure)


def test_conversion_of_all_probes(w1: W1Files, clock: HandClock) -> None:
    """Where the kernel offers it, all probes measure at once and the reads carry that time."""
    file = w1.bulk("1\n")

    class Kernel(OneWireBus):
        def _ready(self, file: Path, until_s: float) -> bool:
            assert file.read_text(encoding="ascii") == "trigger\n"
            file.write_text("1\n", encoding="ascii")
            clock.now_s += 0.75
            return super()._ready(file, until_s)

    bus = Kernel(w1.directory, clock)
    assert bus.convert_all() == 1000.0
    w1.probe(PROBE)
    sample = bus.read(PROBE, 1000.0)
    assert (sample.at_mono_s, clock.now_s) == (1000.0, 1000.75)
    assert file.exists()


def test_error_values_are_refused_after_a_conversion_of_all_probes(w1: W1Files, clock: HandClock) -> None:
    """On that path the kernel does not test for its error values; the reader does."""
    w1.bulk("1\n")
    w1.probe(PROBE, "50 05 4b 46 7f ff 0c 10 1c", t=85000)
    assert OneWireBus(w1.directory, clock).read(PROBE, 999.0) == RawFailure(Why.POWER_ON, 1000.0)


def test_busy_bus_is_waited_for_but_not_for_ever(
    w1: W1Files, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bus that stays busy is left after two seconds; each read then measures for itself."""
    w1.bulk("-1\n")
    monkeypatch.setattr(Path, "write_text", lambda *_args, **_kwargs: 8)
    assert OneWireBus(w1.directory, clock).convert_all() is None
    assert 2.0 <= clock.now_s - 1000.0 < 2.2


def test_bus_that_starts_nothing_is_not_believed(
    w1: W1Files, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An answer of 0 means that no conversion was started."""
    w1.bulk("0\n")
    monkeypatch.setattr(Path, "write_text", lambda *_args, **_kwargs: 8)
    assert OneWireBus(w1.directory, clock).convert_all() is None


def test_read_only_kernel_files_mean_single_reads(
    w1: W1Files, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the right to start a conversion of all probes nothing is written and nothing is waited for."""
    file = w1.bulk("0\n")
    monkeypatch.setattr(os, "access", lambda *_args: False)
    assert OneWireBus(w1.directory, clock).convert_all() is None
    assert file.read_text(encoding="ascii") == "0\n"
    assert not clock.waits


def test_refused_write_means_single_reads(
    w1: W1Files, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sandbox that makes the kernel files read-only shows only on the write; that is no error either."""
    w1.bulk("1\n")

    def refuse(*_args: object, **_kwargs: object) -> int:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(Path, "write_text", refuse)
    assert OneWireBus(w1.directory, clock).convert_all() is None


def test_no_bulk_file_means_single_reads(w1: W1Files, clock: HandClock) -> None:
    """An older kernel has no such file."""
    assert OneWireBus(w1.directory, clock).convert_all() is None
    assert stat.S_ISDIR(w1.directory.stat().st_mode)


def test_list_names_thermometers_only(w1: W1Files, clock: HandClock) -> None:
    """The list knows thermometers by family code and leaves masters and other devices out."""
    w1.bulk("0\n")
    for device in ("10-000802b3d1ca", PROBE, "29-00000012ab34", "3b-000000183bd5", "zz-1", "28"):
        w1.probe(device)
    listed = OneWireBus(w1.directory, clock).listed()
    assert listed == (
        ListedProbe("10-000802b3d1ca", "DS18S20"),
        ListedProbe(PROBE, "DS18B20"),
        ListedProbe("3b-000000183bd5", "DS1825"),
    )


def test_list_without_a_bus_says_so(w1: W1Files, clock: HandClock) -> None:
    """No directory is no bus, which the caller reports."""
    with pytest.raises(FileNotFoundError):
        OneWireBus(w1.directory / "gone", clock).listed()


def test_reading_loads_neither_the_library_nor_kernel_modules(w1: W1Files) -> None:
    """The daemon reads without the library; a listing loads it without letting it start modprobe."""
    w1.probe(PROBE)
    program = (
        "import sys, os\n"
        "from controller.clock import SystemClock\n"
        "from controller.sensors.onewire import OneWireBus\n"
        "bus = OneWireBus(sys.argv[1], SystemClock())\n"
        "bus.read(sys.argv[2])\n"
        "assert 'w1thermsensor' not in sys.modules\n"
        "os.system = lambda command: sys.exit('started ' + command)\n"
        "assert len(bus.listed()) == 1\n"
        "assert 'w1thermsensor' in sys.modules\n"
    )
    root = Path(onewire.__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", program, str(w1.directory), PROBE],
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert (done.returncode, done.stderr) == (0, "")
