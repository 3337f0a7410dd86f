"""The command line: one function a command, each in a file of its own, imported only when it is asked for."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from controller import __version__
from controller.cli.arguments import DEFAULT_FILE, Commands, date, default_file, low, positive, trial_time
from controller.cli.plain_text import soften_output
from controller.cli.record_options import add_record_commands
from controller.cli.rehearse_options import add_options, answer

if TYPE_CHECKING:
    from collections.abc import Sequence

INTERRUPTED = 130  # the shell's exit code for a command ended by the interrupt key


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    soften_output()
    options = _parser().parse_args(arguments)
    try:
        return int(options.run(options))
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output has left
        return 0
    finally:
        _forget_interrupt()  # also where a command has dealt with the key itself


def _forget_interrupt() -> None:
    """Let the exit code be ours.

    A key pressed while code was run from text (dataclasses and numba do that) leaves a mark in CPython 3.11,
    and ``python -m`` with that mark ends by the signal whatever the exit code. Running any text wipes it.
    """
    exec("")  # noqa: S102


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="hypocaust",
        description="Controller for a greenhouse that stores sun heat in the soil under its beds.",
    )
    parser.add_argument("--version", action="version", version=f"hypocaust {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_check(commands)
    _add_run(commands)
    _add_rehearse(commands)
    _add_status(commands)
    add_record_commands(commands)
    _add_probes(commands)
    _add_clear(commands)
    _add_seen(commands)
    _add_house(commands)
    _add_done(commands)
    _add_safe(commands)
    _add_test(commands)
    _add_tonight(commands)
    _add_migrate(commands)
    _add_verify(commands)
    return parser


def _add_check(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("check", help="is this settings file good? names every error with its line")
    parser.add_argument("file", metavar="FILE", help="settings file (TOML)")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.check import check  # noqa: PLC0415

        return check(options.file)

    parser.set_defaults(run=run)


def _add_run(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("run", help="control the greenhouse until stopped")
    parser.add_argument("file", metavar="FILE", help="settings file (TOML)")
    parser.add_argument(
        "--simulated", action="store_true", help="put a simulated house behind the controller"
    )
    parser.add_argument("--weather", default="carolina", help="weather of the simulated house (see rehearse)")
    parser.add_argument("--start", type=date, metavar="DATE", help="date the simulated house starts at")
    parser.add_argument(
        "--speed", type=positive, default=1.0, help="simulated seconds per second (default 1)"
    )
    parser.add_argument("--seed", type=int, default=0, help="seed of probe noise and made-up rain")

    def run(options: argparse.Namespace) -> int:
        from controller.service.lean import postpone_what_is_never_used  # noqa: PLC0415

        postpone_what_is_never_used()
        from controller.cli.run import run_daemon  # noqa: PLC0415
        from controller.startup import Simulation  # noqa: PLC0415

        simulation = Simulation(options.weather, options.start, options.speed, options.seed)
        return run_daemon(Path(options.file), simulation if options.simulated else None)

    parser.set_defaults(run=run)


def _add_rehearse(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "rehearse", help="let the controller work on simulated weather and sum it up"
    )
    add_options(parser)
    parser.set_defaults(run=lambda options: answer(parser, options))


def _add_status(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("status", help="what the house does now")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")
    parser.add_argument("--watch", action="store_true", help="redraw every two seconds until interrupted")
    parser.add_argument("--all", action="store_true", help="all there is, on as many lines as it takes")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.status import status  # noqa: PLC0415

        path = options.file if options.file is not None else default_file()
        return status(path, sys.stdout, watch=options.watch, everything=options.all)

    parser.set_defaults(run=run)


def _add_probes(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("probes", help="list the probes on the 1-wire bus and what they read")
    parser.add_argument(
        "--bus",
        default="/sys/bus/w1/devices",
        metavar="DIR",
        help="where the kernel lists them (default: /sys/bus/w1/devices)",
    )

    def run(options: argparse.Namespace) -> int:
        from controller.cli.probes import probes  # noqa: PLC0415

        return probes(options.bus, sys.stdout)

    parser.set_defaults(run=run)


def _add_clear(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("clear", help="clear a latched fault, on the machine itself")
    parser.add_argument("fault", choices=("fire",), help="which fault")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.clear import clear_fire  # noqa: PLC0415

        return clear_fire(Path(options.file or DEFAULT_FILE))

    parser.set_defaults(run=run)


def _add_seen(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "seen", help="say that you have seen an alarm, so that it calls nobody for now"
    )
    parser.add_argument("code", metavar="CODE", help="which alarm, as status names it")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")
    parser.add_argument("--until", choices=("dawn",), help="call again at 07:00, even if it is no worse")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.say import seen  # noqa: PLC0415

        return seen(Path(options.file or DEFAULT_FILE), options.code, options.until is not None)

    parser.set_defaults(run=run)


def _add_house(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "house", help="say whether there is a crop; alarms of an empty house are muted"
    )
    parser.add_argument("state", choices=("empty", "planted"), help="empty holds for two weeks")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.say import house  # noqa: PLC0415

        return house(Path(options.file or DEFAULT_FILE), options.state)

    parser.set_defaults(run=run)


def _add_done(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("done", help="say that a check by hand was done, such as: done floats")
    parser.add_argument("check", metavar="CHECK", help="which one, as status --all names it")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.say import done  # noqa: PLC0415

        return done(Path(options.file or DEFAULT_FILE), options.check)

    parser.set_defaults(run=run)


def _add_safe(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("safe", help="all outputs off, nothing else")
    parser.add_argument("file", metavar="FILE", help="settings file that names the pins")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.safe import safe  # noqa: PLC0415

        return safe(Path(options.file))

    parser.set_defaults(run=run)


def _add_test(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "test", help="switch one output on for some seconds, with the service stopped"
    )
    parser.add_argument(
        "output", metavar="OUTPUT", help="fan:NAME, pump:NAME, signal:all-well or signal:today"
    )
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")
    parser.add_argument(
        "--for", dest="for_s", metavar="TIME", type=trial_time, default=5.0, help='how long (default: "5 s")'
    )

    def run(options: argparse.Namespace) -> int:
        from controller.cli.test import test_output  # noqa: PLC0415

        return test_output(Path(options.file or DEFAULT_FILE), options.output, options.for_s)

    parser.set_defaults(run=run)


def _add_migrate(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "migrate", help="show what an older settings file needs for this release, as a diff"
    )
    parser.add_argument("file", metavar="FILE", help="settings file (TOML)")
    parser.add_argument(
        "--write", action="store_true", help="change the file, and keep the old one beside it"
    )

    def run(options: argparse.Namespace) -> int:
        from controller.cli.migrate import migrate  # noqa: PLC0415

        return migrate(Path(options.file), options.write)

    parser.set_defaults(run=run)


def _add_tonight(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("tonight", help="how cold the night gets, with the store and without it")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")
    parser.add_argument(
        "--low",
        type=low,
        metavar="TEMPERATURE",
        help='a forecast of its low outdoors, such as 18F, "-7.5 °C" or --low=-7.5C',
    )

    def run(options: argparse.Namespace) -> int:
        from controller.cli.tonight import tonight  # noqa: PLC0415

        path = options.file if options.file is not None else default_file()
        return tonight(path, Path(options.file or DEFAULT_FILE), options.low, sys.stdout)

    parser.set_defaults(run=run)


def _add_verify(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "verify", help="is what is installed whole, and can it work on this machine?"
    )
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.verify import verify  # noqa: PLC0415

        return verify(Path(options.file or DEFAULT_FILE), sys.stdout)

    parser.set_defaults(run=run)
