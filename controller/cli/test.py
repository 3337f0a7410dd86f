"""``hypocaust test OUTPUT --for "5 s"``: switch one output on for some seconds, with the service stopped.

A person looks on, so shortest runs and rests are not kept; the run is written into the memory, and the
controller keeps them from there. Float, fire and stagger are obeyed. The work is done in a child process: if
that is killed, this one drives every output off; if this one is killed, the child sees it and ends.
"""

from __future__ import annotations

import logging
import os
import signal
import sys
import threading
from typing import TYPE_CHECKING

import structlog

from controller.cli.trial import Trial
from controller.clock import SystemClock
from controller.outputs.board import BoardError
from controller.outputs.safe_state import drive_all_off
from controller.service.directories import StartError, claim, prepare_directories
from controller.settings.load import load
from controller.settings.places import runtime_directory
from controller.settings.problems import SettingsError
from controller.startup import real_hardware

if TYPE_CHECKING:
    from pathlib import Path

    from controller.equipment import OutputId
    from controller.settings.schema import Settings

DONE, REFUSED, BAD_REQUEST, CANNOT_START = 0, 1, 2, 3
ENDINGS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


def test_output(path: Path, name: str, for_s: float) -> int:
    """Switch one output on for a while; every output is off when this returns.

    Args:
        path: the settings file.
        name: the output, as in ``fan:north``.
        for_s: how long.

    Returns:
        0 after a whole run, 1 if it was refused or cut short, 2 for bad settings or an output that is not in
        them, 3 if a controller runs, or hardware or a directory cannot be had.
    """
    try:
        settings = load(path)
    except SettingsError as trouble:
        print(trouble, file=sys.stderr)
        return BAD_REQUEST
    outputs = {str(output): output for output in _outputs(settings)}
    if name not in outputs:
        print(f'"{name}" is not an output of {path}; expected {", ".join(outputs)}', file=sys.stderr)
        return BAD_REQUEST
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    try:
        prepare_directories(settings)
        with claim(settings):
            return _watched(path, settings, outputs[name], for_s)
    except StartError as trouble:
        print(f"cannot start: {trouble}", file=sys.stderr)
        return CANNOT_START


def _outputs(settings: Settings) -> tuple[OutputId, ...]:
    derived = settings.derived
    return (*(loop.fan for loop in derived.loops), *derived.pumps.values(), *derived.signals)


def _watched(path: Path, settings: Settings, output: OutputId, for_s: float) -> int:
    """Let a child do it, hand on what asks it to end, and make safe what it leaves if it is killed."""
    sys.stdout.flush()
    parent = os.getpid()
    child = os.fork()
    if child == 0:
        code = CANNOT_START
        try:
            code = _tried(settings, output, for_s, parent)
        except Exception as problem:  # noqa: BLE001 - whatever it is, its words must not be lost with the child
            print(f"The test broke off: {type(problem).__name__}: {problem}", file=sys.stderr)
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    for number in ENDINGS:
        signal.signal(number, lambda *_: os.kill(child, signal.SIGTERM))
    _, status = os.waitpid(child, 0)
    if os.WIFEXITED(status):
        return os.WEXITSTATUS(status)
    report = drive_all_off(path)
    print(
        f"The test was killed. Off: {', '.join(report.driven)}.", *report.problems, sep="\n", file=sys.stderr
    )
    return REFUSED


def _tried(settings: Settings, output: OutputId, for_s: float, parent: int) -> int:
    """The child: open the board, try the output, close the board with every output off."""
    asked_to_end = threading.Event()
    for number in ENDINGS:
        signal.signal(number, lambda *_: asked_to_end.set())
    try:
        hardware = real_hardware(settings, runtime_directory(settings))
    except (BoardError, StartError) as trouble:
        print(f"cannot start: {trouble}", file=sys.stderr)
        return CANNOT_START
    try:
        trial = Trial(settings, hardware, output, lambda: asked_to_end.is_set() or os.getppid() != parent)
        problem = trial.run(for_s, SystemClock())
    finally:
        hardware.outputs.close()
    if problem:
        print(f"{output}: {problem}", file=sys.stderr)
        return REFUSED
    return DONE
