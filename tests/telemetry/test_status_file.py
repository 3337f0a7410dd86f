"""The status as a file."""

from __future__ import annotations

import stat

from controller.decision.command import OutputChange
from controller.faults import FaultCode
from controller.telemetry.payloads import Status
from controller.telemetry.status_file import StatusFile
from tests.telemetry import ticks


def read(directory) -> Status:
    """What stands in the file."""
    return Status.model_validate_json((directory / "status.json").read_bytes())


def test_file_holds_the_status_for_all_to_read(tmp_path):
    """The status, valid for three ticks, readable by everybody, nothing left beside it."""
    StatusFile(tmp_path, ticks.PROGRAM, lambda: 2).observe(ticks.tick())
    told = read(tmp_path)
    assert (told.seq, told.valid_for_s, told.promises_broken) == (7, 30.0, 2)
    assert stat.S_IMODE((tmp_path / "status.json").stat().st_mode) == 0o644
    assert [entry.name for entry in tmp_path.iterdir()] == ["status.json"]


def test_written_once_a_tick_period_and_at_every_change(tmp_path):
    """A tick between two periods writes only if an output or an alarm changed."""
    file = StatusFile(tmp_path, ticks.PROGRAM)
    file.observe(ticks.tick(1, 1000.0))
    file.observe(ticks.tick(2, 1000.4))
    assert read(tmp_path).seq == 1
    change = OutputChange(ticks.NORTH, True, ticks.BANKING)
    file.observe(ticks.tick(3, 1000.8, decision=ticks.decision(changes=(change,))))
    assert read(tmp_path).seq == 3
    file.observe(ticks.tick(4, 1010.0))
    assert read(tmp_path).seq == 4


def test_reader_never_sees_half_a_file(tmp_path):
    """The file is replaced as a whole: one opened before keeps the old text."""
    file = StatusFile(tmp_path, ticks.PROGRAM)
    file.observe(ticks.tick(1, 1000.0))
    with (tmp_path / "status.json").open("rb") as opened:
        file.observe(ticks.tick(2, 1010.0))
        assert Status.model_validate_json(opened.read()).seq == 1
    assert read(tmp_path).seq == 2


def test_failure_is_a_finding_until_it_is_over(tmp_path):
    """No directory: nothing raises, the storage fault says why; once there is one the fault is gone."""
    directory = tmp_path / "gone"
    file = StatusFile(directory, ticks.PROGRAM)
    file.observe(ticks.tick(1, 1000.0))
    finding = file.findings()[0]
    assert finding.code is FaultCode.STORAGE
    assert "No such file" in finding.detail
    directory.mkdir()
    file.observe(ticks.tick(2, 1010.0))
    assert file.findings() == ()
    assert read(directory).seq == 2


def test_works_without_a_broker_in_the_settings(tmp_path):
    """A house without [mqtt] has the file all the same."""
    bare = ticks.tick()._replace(settings=ticks.settings().model_copy(update={"mqtt": None}))
    StatusFile(tmp_path, ticks.PROGRAM).observe(bare)
    assert read(tmp_path).site == "fellside"
