"""Clearing a latched fault by a file on the machine."""

from __future__ import annotations

import pytest

from controller.faults import FaultCode
from controller.service.operator_requests import OperatorRequests, request_clear


def test_request_is_taken_once(tmp_path):
    """A person clears a fault, the next tick sees it, the tick after does not."""
    request_clear(tmp_path, FaultCode.FIRE)
    request_clear(tmp_path, FaultCode.FIRE)
    request_clear(tmp_path, FaultCode.SUMP_NOT_EMPTYING)
    requests = OperatorRequests(tmp_path)
    assert requests.take() == {FaultCode.FIRE, FaultCode.SUMP_NOT_EMPTYING}
    assert requests.take() == frozenset()


def test_other_files_are_left_alone(tmp_path):
    """Only requests are removed; one with a name that is no fault clears nothing."""
    (tmp_path / "status.json").touch()
    (tmp_path / "clear-everything").touch()
    assert OperatorRequests(tmp_path).take() == frozenset()
    assert [path.name for path in tmp_path.iterdir()] == ["status.json"]


def test_request_that_cannot_be_removed_does_not_count(tmp_path):
    """Otherwise it would clear the latch again in every tick, and the latch would be none."""
    (tmp_path / "clear-fire").mkdir()
    assert OperatorRequests(tmp_path).take() == frozenset()


def test_no_runtime_directory_no_requests(tmp_path):
    """A missing directory is not the tick's problem, but it is the person's."""
    assert OperatorRequests(tmp_path / "gone").take() == frozenset()
    with pytest.raises(OSError, match="No such file"):
        request_clear(tmp_path / "gone", FaultCode.FIRE)
