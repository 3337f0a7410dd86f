"""The daemon as a process: started, fed, flooded, hung, killed, restarted, reloaded."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from controller.decision.need import STORE_FULL_K
from controller.service.directories import StartError, prepare_directories
from controller.settings.load import load
from tests.process import journal
from tests.process.bench import ROOT, SPEED, Bench, bench_in
from tests.process.manager import Manager

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.process
FASTER = 60.0
FULL_STORE_C = load(ROOT / "config" / "one-loop.toml").setpoints.heat_below_c + STORE_FULL_K + 1.0


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench with one loop, one sump and two probes."""
    yield from bench_in(tmp_path)


def hot(bench: Bench, soil_c: float = 14.0) -> None:
    """Start the daemon on a hot noon and wait until the fan cools."""
    bench.temperatures(roof=35.0, soil=soil_c)
    bench.start()
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on")


def test_outputs_are_off_before_the_daemon_reports_ready(bench: Bench) -> None:
    """Pins a dead program left on are off again by the time the new one says READY."""
    for pin in (bench.fan_pin, bench.pump_pin):
        (bench.pins / f"{pin}.out").write_text("1")
    bench.start()
    assert bench.is_on(bench.fan_pin) is False
    assert bench.is_on(bench.pump_pin) is False


def test_fan_runs_on_real_kernel_files_and_stops_on_sigterm(bench: Bench) -> None:
    """A hot roof read from kernel-format files starts the fan; SIGTERM switches it off and exits with 0."""
    hot(bench)
    bench.until(lambda: '"fan_on":true' in bench.status().replace(" ", ""), "fan in the status file")
    bench.signal(signal.SIGTERM)
    assert bench.wait() == 0
    assert bench.is_on(bench.fan_pin) is False


def test_float_edge_stops_the_fan_within_a_second_while_the_bus_hangs(bench: Bench) -> None:
    """Water stops the fan within a real second although every probe read hangs for ever."""
    hot(bench)
    bench.hang_bus()
    time.sleep(2.0 / SPEED * 2)  # let the sampler run into the hanging read
    bench.wet()
    took_s = bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off", patience_s=5.0)
    assert took_s < 1.0
    bench.until(lambda: bench.is_on(bench.pump_pin) is True, "pump on")


def test_a_hanging_tick_loses_outputs_and_watchdog_and_all_rests_when_it_goes_on(bench: Bench) -> None:
    """Twice the loop hangs and goes on: off within the lease, then a rest, each with its record."""
    hot(bench)
    lease_s = load(bench.file).service.lease_s / SPEED
    for _ in range(2):
        (bench.pins / "hang").touch()
        bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off", patience_s=lease_s + 2.0)
        bench.notices()
        time.sleep(1.5)
        assert not any("WATCHDOG=1" in notice for notice in bench.notices())
        (bench.pins / "hang").unlink()
        bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on again")
    levels = journal.read(bench.pins / "journal")
    assert len(journal.starts(levels)[bench.fan_pin]) == 3
    assert journal.broken(levels, load(bench.file), SPEED) == []
    assert bench.log.read_text(encoding="utf-8").count("because no decision came for 35 s") == 2
    bench.until(lambda: '"promises_broken":0' in bench.status().replace(" ", ""), "no promise broken")


@pytest.mark.parametrize("how", ["stopped", "frozen"])
def test_a_program_that_stands_still_is_off_within_the_lease(bench: Bench, how: str) -> None:
    """A stopped process, and one whose interpreter is locked: found, killed and made safe in real time."""
    manager = Manager(bench)
    hot(bench)
    stood_still_s = time.monotonic()
    if how == "stopped":
        bench.signal(signal.SIGSTOP)
    else:
        (bench.pins / "freeze").touch()
    manager.follow()
    lease_s = load(ROOT / "config" / "house.toml").service.lease_s
    off_s = {level.pin: level.at_s for level in journal.read(bench.pins / "journal") if not level.on}
    assert not any(bench.is_on(pin) for pin in (bench.fan_pin, bench.pump_pin))
    assert max(off_s.values()) - stood_still_s < lease_s


def test_a_pin_that_does_not_answer_keeps_no_other_on(bench: Bench) -> None:
    """Water stops the fan within a second although the pump's pin hangs, and an alarm says which."""
    hot(bench)
    (bench.pins / f"{bench.pump_pin}.hang").touch()
    bench.until(lambda: "has not answered" in bench.status(), "output alarm")
    bench.wet()
    took_s = bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off", patience_s=5.0)
    assert took_s < 1.0
    assert "pump:pit" in bench.status()


def test_kill_leaves_the_pin_and_safe_switches_it_off(bench: Bench) -> None:
    """After kill -9 the pin may stay on; ``safe``, which the service manager then runs, switches it off."""
    hot(bench)
    bench.kill()
    assert bench.is_on(bench.fan_pin) is True
    done = bench.safe()
    assert done.returncode == 0, done.stderr
    assert bench.is_on(bench.fan_pin) is False


def test_rest_and_drain_down_hold_across_kill_and_restart(bench: Bench) -> None:
    """After kill -9 and a restart the fan is off at once and rests its full minute before it runs again."""
    hot(bench)
    bench.kill()
    bench.start()
    assert bench.is_on(bench.fan_pin) is False
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on again")
    levels = journal.read(bench.pins / "journal")
    (_first_at_s, _), (on_at_s, off_at_s) = journal.starts(levels)[bench.fan_pin]
    assert off_at_s is not None
    assert (on_at_s - off_at_s) * SPEED >= 60.0


def test_bad_reload_changes_nothing_and_is_named_with_its_line(bench: Bench) -> None:
    """A bad file is rejected with an alarm naming the line; the fan keeps running; a good file heals it."""
    hot(bench)
    bench.notices()
    bench.file.write_text(bench.text.replace('"250 cfm"', '"250 cfm"') + "\nnonsense = 3\n", encoding="utf-8")
    bench.signal(signal.SIGHUP)
    bench.until(lambda: "settings-rejected" in bench.status(), "alarm in the status")
    assert "nonsense" in bench.status()
    assert any("RELOADING=1" in notice for notice in bench.notices())
    assert bench.is_on(bench.fan_pin) is True
    bench.file.write_text(bench.text, encoding="utf-8")
    bench.signal(signal.SIGHUP)
    bench.until(lambda: "settings-rejected" not in bench.status(), "alarm gone")


@pytest.mark.parametrize("damaged", ["a typo", "half a file"])
def test_a_file_broken_while_running_still_controls_after_a_power_cut(bench: Bench, damaged: str) -> None:
    """Run, break the file, kill -9, start again: the last good copy controls, and a person is called now."""
    hot(bench)
    broken = bench.text.replace('"0.12 m3/s"', '"0.12"') if damaged == "a typo" else bench.text[:-90] + '"'
    assert broken != bench.text
    bench.until((bench.state_directory / "last-good.toml").exists, "copy of the good settings")
    bench.file.write_text(broken, encoding="utf-8")
    bench.until(lambda: "settings-rejected" in bench.status(), "alarm in the status")
    bench.kill()
    assert bench.is_on(bench.fan_pin) is True
    bench.safe()
    assert bench.is_on(bench.fan_pin) is False
    bench.start()
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on again, on the copy")
    told = json.loads(bench.status())
    assert told["settings"].startswith(f"the last good copy {bench.state_directory}")
    (alarm,) = [alarm for alarm in told["alarms"] if alarm["code"] == "settings-rejected"]
    assert (alarm["priority"], str(bench.file) in alarm["detail"]) == ("act now", True)
    bench.wet()
    bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off")
    bench.until(lambda: bench.is_on(bench.pump_pin) is True, "pump on")
    bench.file.write_text(bench.text, encoding="utf-8")
    bench.until(lambda: "settings-rejected" not in bench.status(), "alarm gone")
    assert json.loads(bench.status())["settings"] == str(bench.file)


def test_a_bad_file_without_a_good_copy_starts_nothing(bench: Bench) -> None:
    """A first start with a bad file ends with 2 and every error, as the unit expects."""
    bench.file.write_text(bench.text.replace('"0.12 m3/s"', '"0.12"'), encoding="utf-8")
    bench.launch()
    assert bench.wait() == 2
    assert "loops.bed.flow" in bench.log.read_text(encoding="utf-8")
    assert bench.is_on(bench.fan_pin) is None


def test_a_changed_setpoint_is_in_force_without_a_restart(tmp_path: Path) -> None:
    """Turning cooling off in the file ends the demand of a fan on a full store after its minimum run."""
    for bench in bench_in(tmp_path, speed=FASTER):
        hot(bench, soil_c=FULL_STORE_C)
        changed = bench.text.replace("cooling = true", "cooling = false")
        assert changed != bench.text
        bench.file.write_text(changed, encoding="utf-8")
        bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off after its minimum run")  # noqa: B023


def test_a_second_controller_is_refused(bench: Bench) -> None:
    """Two controllers never share one house: the second exits with 3 and says why."""
    bench.start()
    second = subprocess.run(
        bench.command("run", str(bench.file)), cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert second.returncode == 3
    assert "another controller runs already" in second.stderr
    assert "Traceback" not in second.stderr


def test_a_latched_fire_survives_kill_and_is_cleared_by_a_person(bench: Bench) -> None:
    """A fire signature stops the fan, outlives kill -9, and ends only with ``clear fire`` on the machine."""
    hot(bench)
    bench.temperatures(roof=44.0)
    time.sleep(3 * 2.0 / SPEED)
    for roof_c in (53.0, 62.0, 70.0):
        bench.temperatures(roof=roof_c)
        time.sleep(3 * 2.0 / SPEED)
    bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off")
    bench.until(lambda: '"fire"' in bench.status(), "fire alarm")
    still = clear_fire(bench)
    assert (still.returncode, "Not cleared: a probe still shows" in still.stdout) == (1, True), still
    bench.kill()
    nobody = clear_fire(bench)
    assert (nobody.returncode, "No controller runs in" in nobody.stderr) == (3, True), nobody
    (bench.run_directory / "clear-fire").touch()  # as an earlier release would have left it
    bench.temperatures(roof=35.0)
    bench.start()
    bench.until(lambda: '"fire"' in bench.status(), "fire alarm after restart")
    time.sleep(90.0 / SPEED)
    assert bench.is_on(bench.fan_pin) is False
    target = bench.directory / "target"
    (bench.run_directory / "clear-fire").symlink_to(target)
    done = clear_fire(bench)
    assert (done.returncode, "The fire latch is cleared" in done.stdout) == (0, True), done
    assert not target.exists()
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on again")


def clear_fire(bench: Bench) -> subprocess.CompletedProcess[str]:
    """A person asks, in real time."""
    command = [sys.executable, "-m", "controller", "clear", "fire", str(bench.file)]
    places = os.environ | {"RUNTIME_DIRECTORY": str(bench.run_directory)}
    return subprocess.run(command, cwd=ROOT, env=places, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("whose", ["run", "state", "history"])
def test_root_is_refused_in_directories_of_another_user(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, whose: str
) -> None:
    """What root leaves there the service cannot open: the start ends before a file is made and says so."""
    history = bench.directory / "history"
    bench.file.write_text(f'{bench.text}\n[history]\nfile = "{history}/h.sqlite3"\n', encoding="utf-8")
    for directory in (bench.run_directory, bench.state_directory, history):
        directory.mkdir()
        if os.getuid() == 0 and directory.name == whose:
            os.chown(directory, 4711, 4711)
    monkeypatch.setattr("controller.service.directories.os.geteuid", lambda: 0)
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(bench.run_directory))
    monkeypatch.setenv("STATE_DIRECTORY", str(bench.state_directory))
    with pytest.raises(StartError, match=r"belongs to .* systemctl start hypocaust.* sudo -u"):
        prepare_directories(load(bench.file))
    assert not list(bench.run_directory.iterdir())


def test_a_history_that_cannot_be_opened_leaves_control_untouched(tmp_path: Path) -> None:
    """With a directory where the history file should be, the fan still runs and the person is told."""
    blocked = tmp_path / "blocked"
    blocked.mkdir()
    for bench in bench_in(tmp_path, extra=f'\n[history]\nfile = "{blocked}"\n', speed=FASTER):
        hot(bench)
        bench.until(lambda: '"storage"' in bench.status(), "storage alarm")  # noqa: B023
        assert bench.is_on(bench.fan_pin) is True
