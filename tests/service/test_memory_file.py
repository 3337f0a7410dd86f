"""Memory across restarts: newest wins, damage is survived, trouble is a finding and never an exception."""

from __future__ import annotations

import json
import os
import threading

import pytest

from controller.faults import FaultCode
from controller.service import memory_file
from controller.service.memory_file import KEEP_EVERY_S, MemoryFile


@pytest.fixture
def places(tmp_path):
    """A runtime and a state directory."""
    runtime, state = tmp_path / "run", tmp_path / "lib"
    runtime.mkdir()
    state.mkdir()
    return runtime, state


@pytest.fixture
def memory(places, clock):
    """A memory of boot "a" whose thread does not run."""
    return MemoryFile(*places, "a", clock)


def test_nothing_remembered_is_no_fault(memory):
    """The first start has no memory and no finding."""
    assert memory.load() is None
    assert memory.findings() == ()


def test_restart_within_a_boot_reads_the_runtime_copy(memory, places, clock):
    """Every save is there at once, with times that still hold."""
    memory.save({"rested_since": 12.5})
    memory.save({"rested_since": 13.5})
    assert MemoryFile(*places, "a", clock).load() == ({"rested_since": 13.5}, True)
    assert list(places[1].iterdir()) == []


def test_next_boot_reads_the_card_and_knows_that_times_are_gone(memory, places, clock):
    """The runtime copy of another boot is not believed; the kept one is, without its times."""
    memory.save({"fire": "latched"}, urgent=True)
    assert memory.keep(clock.now_mono_s)
    memory.save({"fire": "latched", "later": 1})
    assert MemoryFile(*places, "b", clock).load() == ({"fire": "latched"}, False)


def test_card_copy_of_the_same_boot_is_not_taken_for_fresh(memory, places, clock):
    """Starts after it was written are missing from it, so its history counts as unknown."""
    memory.save({"starts": []}, urgent=True)
    memory.keep(clock.now_mono_s)
    (places[0] / memory_file.FILE_NAME).unlink()
    assert MemoryFile(*places, "a", clock).load() == ({"starts": []}, False)


def test_unknown_boot_is_never_the_same_boot(places, clock):
    """Where the kernel does not name the boot, no time is believed."""
    memory = MemoryFile(*places, "", clock)
    memory.save({"x": 1}, urgent=True)
    memory.keep(clock.now_mono_s)
    assert memory.load() == ({"x": 1}, False)


def test_card_is_written_rarely_and_only_when_something_changed(memory):
    """Hourly changes cost a write an hour, constant ones never more than one a quarter of an hour."""
    writes = 0
    for minute in range(1440):
        memory.save({"hour": minute // 60})
        writes += memory.keep(60.0 * minute)
    assert writes == 24
    for minute in range(1440, 1500):
        memory.save({"minute": minute})
        writes += memory.keep(60.0 * minute)
    assert writes == 24 + 3600 / KEEP_EVERY_S


def test_urgent_memory_is_kept_at_once(memory, places):
    """A latch does not wait for the next regular write."""
    memory.save({"fire": False})
    assert memory.keep(0.0)
    memory.save({"fire": True})
    assert not memory.keep(1.0)
    memory.save({"fire": True}, urgent=True)
    assert memory.keep(2.0)
    assert json.loads((places[1] / memory_file.FILE_NAME).read_text(encoding="utf-8"))["memory"] == {
        "fire": True
    }


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"\xff\xfe",
        b"[" * 100_000,
        b'{"version":1,"boot_id":"a"}',
        b'{"version":1,"boot_id":"a","memory":[]}',
        b'{"version":2,"boot_id":"a","memory":{}}',
        b'{"version":1,"boot_id":3,"memory":{}}',
    ],
)
def test_damaged_copies_are_ignored_and_reported(places, clock, content):
    """Half a file, another version or plain rubbish are no memory, with a finding until the next save."""
    for place in places:
        (place / memory_file.FILE_NAME).write_bytes(content)
    memory = MemoryFile(*places, "a", clock)
    assert memory.load() is None
    assert [finding.code for finding in memory.findings()] == [FaultCode.STORAGE] * 2
    assert all("ignored" in finding.detail for finding in memory.findings())
    memory.save({})
    memory.keep(0.0)
    assert memory.findings() == ()


def test_damaged_runtime_copy_falls_back_to_the_card(memory, places, clock):
    """One bad copy does not cost the other."""
    memory.save({"x": 1}, urgent=True)
    memory.keep(clock.now_mono_s)
    (places[0] / memory_file.FILE_NAME).write_text('{"version":1,"boo', encoding="utf-8")
    assert MemoryFile(*places, "a", clock).load() == ({"x": 1}, False)


def test_a_runtime_copy_that_cannot_be_renewed_is_not_taken_for_the_newest(memory, places, clock):
    """Starts since then are missing from it; the card's copy of unknown history is the safer one."""
    memory.save({"starts": 1}, urgent=True)
    memory.keep(clock.now_mono_s)
    (places[0] / memory_file.FILE_NAME).with_suffix(".new").mkdir()
    memory.save({"starts": 2}, urgent=True)
    memory.keep(clock.now_mono_s)
    assert MemoryFile(*places, "a", clock).load() == ({"starts": 2}, False)


@pytest.mark.parametrize("number", [7, 71, 172])
def test_a_number_that_is_another_one_damages_the_memory(memory, places, clock, number):
    """JSON that still reads but is not what was written is seen by its check sum; the other copy is used."""
    memory.save({"age": 17, "name": "a"}, urgent=True)
    memory.keep(clock.now_mono_s)
    for name, used in ((memory_file.FILE_NAME, True), (memory_file.SPARE_NAME, False)):
        path = places[1] / name
        path.write_text(path.read_text(encoding="utf-8").replace(":17", f":{number}"), encoding="utf-8")
        assert (MemoryFile(*places, "b", clock).load() is not None) is used


def test_a_damaged_card_copy_does_not_cost_a_latch(memory, places, clock):
    """What was urgent is in the spare, however often the regular copy has been written since."""
    memory.save({"fire": True}, urgent=True)
    memory.keep(0.0)
    memory.save({"fire": True, "later": 1})
    assert memory.keep(KEEP_EVERY_S)
    (places[1] / memory_file.FILE_NAME).write_bytes(b"")
    assert MemoryFile(*places, "b", clock).load() == ({"fire": True}, False)


def test_write_that_breaks_off_leaves_the_old_memory(memory, places, clock, monkeypatch):
    """The old file gives way only to a whole new one; the failure is a finding until the next success."""
    memory.save({"x": 1}, urgent=True)
    memory.keep(0.0)

    def no_space(_handle):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as full:
        full.setattr(os, "fsync", no_space)
        memory.save({"x": 2}, urgent=True)
        assert not memory.keep(1.0)
    assert MemoryFile(*places, "b", clock).load() == ({"x": 1}, False)
    (finding,) = memory.findings()
    assert (finding.code, finding.subject) == (FaultCode.STORAGE, str(places[1] / memory_file.FILE_NAME))
    assert "No space left" in finding.detail
    memory.save({"x": 3}, urgent=True)
    assert memory.keep(2.0)
    assert memory.findings() == ()


def test_failing_card_is_not_tried_every_tick(memory, places):
    """After a failed write the next one waits its regular time."""
    places[1].rmdir()
    memory.save({"x": 1})
    assert not memory.keep(0.0)
    places[1].mkdir()
    memory.save({"x": 2})
    assert not memory.keep(10.0)
    assert memory.keep(KEEP_EVERY_S)


def test_missing_directories_never_raise(tmp_path, clock):
    """Without any place to write, control goes on and a person is told."""
    memory = MemoryFile(tmp_path / "no", tmp_path / "where", "a", clock)
    memory.save({"x": 1}, urgent=True)
    memory.keep(0.0)
    assert memory.load() is None
    assert len(memory.findings()) == 2


@pytest.mark.parametrize("value", [object(), float("nan")])
def test_what_json_cannot_hold_is_a_finding(memory, value):
    """A memory that cannot be written leaves the last good one in place."""
    memory.save({"x": 1})
    memory.save({"x": value})
    assert memory.load() == ({"x": 1}, True)
    assert "cannot be written as JSON" in memory.findings()[0].detail
    memory.save({"x": 2})
    assert memory.findings() == ()


def test_order_of_a_safe_write(memory, places, monkeypatch):
    """The data is on the card before the name points to it, and the name before the write counts as done."""
    order = []
    real_fsync, real_replace = os.fsync, type(places[1]).replace

    def fsync(handle):
        order.append(os.path.basename(os.readlink(f"/proc/self/fd/{handle}")))  # noqa: PTH115, PTH119
        real_fsync(handle)

    def replace(path, target):
        order.append("rename")
        return real_replace(path, target)

    memory.save({"x": 1})
    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(type(places[1]), "replace", replace)
    memory.keep(0.0)
    assert order == ["memory.new", "rename", "lib"]


def test_thread_keeps_urgent_memory_and_the_last_one_at_the_end(places, clock, monkeypatch):
    """The thread writes without being asked, and closing writes what was saved last."""
    kept = threading.Event()
    memory = MemoryFile(*places, "a", clock)
    original = memory.keep
    monkeypatch.setattr(memory, "keep", lambda now: original(now) and kept.set())
    memory.start()
    assert memory.alive()
    memory.save({"x": 1}, urgent=True)
    assert kept.wait(10.0)
    memory.save({"x": 2})
    memory.close()
    assert not memory.alive()
    assert MemoryFile(*places, "b", clock).load() == ({"x": 2}, False)


def test_close_without_a_thread_keeps_the_last_memory(memory, places, clock):
    """A program that never started the thread loses nothing."""
    memory.save({"x": 1})
    memory.close()
    assert MemoryFile(*places, "b", clock).load() == ({"x": 1}, False)
