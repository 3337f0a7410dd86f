"""``hypocaust run FILE``: control the greenhouse until stopped."""

from __future__ import annotations

import os
import signal
import sys
from typing import TYPE_CHECKING

import structlog

from controller.cli.progress import say, say_what_loads
from controller.clock import SystemClock
from controller.outputs.board import BoardError
from controller.service.directories import StartError, claim, prepare_directories
from controller.service.logs import configure
from controller.settings.begin import begin, begin_with_file
from controller.settings.places import desk_environment, runtime_directory
from controller.settings.problems import SettingsError
from controller.startup import Controller, real_hardware, simulated_hardware

if TYPE_CHECKING:
    from pathlib import Path

    from controller.settings.schema import Settings
    from controller.startup import Hardware, Simulation

STOPPED, BAD_SETTINGS, CANNOT_START = 0, 2, 3


def run_daemon(path: Path, simulation: Simulation | None) -> int:
    """Run until SIGTERM or SIGINT; SIGHUP reads the settings again.

    Args:
        path: the settings file.
        simulation: how to run the simulated house, None for real hardware.

    Returns:
        0 after an orderly stop, 2 for bad settings of which no good copy is kept, 3 if the hardware or a
        directory cannot be had.
    """
    configure(SystemClock())
    try:
        # At a desk somebody reads what is wrong; in a greenhouse the night does not wait for anybody.
        start = begin(path) if simulation is None else begin_with_file(path)
    except SettingsError as trouble:
        print(trouble, file=sys.stderr)
        return BAD_SETTINGS
    settings = start.settings
    if start.rejected is not None:
        structlog.get_logger("settings").error(
            "settings_rejected", problems=start.rejected.text.splitlines(), in_force=str(start.copy)
        )
    try:
        if simulation is not None:
            _move_to_desk(settings)
        prepare_directories(settings)
        with claim(settings) as run:
            controller = Controller(start, _hardware(settings, simulation), run)
            for number in (signal.SIGTERM, signal.SIGINT):
                signal.signal(number, lambda *_: controller.stop())
            signal.signal(signal.SIGHUP, lambda *_: controller.reload())
            controller.run()
    except (StartError, BoardError) as trouble:
        print(f"cannot start: {trouble}", file=sys.stderr)
        return CANNOT_START
    return STOPPED


def _move_to_desk(settings: Settings) -> None:
    """A simulated house keeps its files apart from a real one's, unless the environment says where."""
    try:
        for name, directory in desk_environment(settings.site.name).items():
            os.environ.setdefault(name, directory)
    except OSError as trouble:
        raise StartError(str(trouble)) from trouble


def _hardware(settings: Settings, simulation: Simulation | None) -> Hardware:
    if simulation is None:
        return real_hardware(settings, runtime_directory(settings))
    try:
        from controller.simulator.house.model import ModelError  # noqa: PLC0415 - pulls the numerics
        from controller.simulator.weather.formats import WeatherError  # noqa: PLC0415
    except ImportError as missing:
        raise StartError(
            f"the simulated house needs the rehearsal extra ({missing.name} is missing). "
            'Install it with: pip install "hypocaust[rehearsal]"'
        ) from missing
    try:
        say_what_loads()
        return simulated_hardware(settings, simulation)
    except WeatherError as trouble:
        raise StartError(f"--weather: {trouble}") from trouble
    except ModelError as trouble:
        raise StartError(str(trouble)) from trouble
    finally:
        say("")
