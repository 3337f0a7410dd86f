"""The options of ``hypocaust rehearse``, and which of its two commands they ask for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from controller.cli.arguments import STRATEGY_NAMES, date, names, pace, positive, seeds, strategies

if TYPE_CHECKING:
    import argparse


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add them."""
    parser.description = (
        "Lets the controller work on simulated weather and sums it up. With more than one file, weather, "
        "strategy or seed, every combination is rehearsed, on all cores, and set beside the first."
    )
    parser.add_argument("files", metavar="FILE", nargs="*", help="settings file (TOML), or several")
    parser.add_argument(
        "--weather",
        type=names,
        default=["carolina"],
        metavar="NAME",
        help="carolina, alaska-coast, miami, or a TMY3, TMY2 or EPW file; invented-NAME is a year made out "
        "of it by --seed, with cold snaps, heat waves and wet springs; NAME-8K is 8 K colder, NAME:1100mm "
        "has that much rain a year (which is made up where a file has none) "
        "(default: carolina); several with commas between",
    )
    parser.add_argument(
        "--start",
        type=date,
        metavar="DATE",
        help="first day, YYYY-MM-DD (default: 1 January); with --days 365 a season need not be cut in two, "
        "as from 2026-07-01",
    )
    parser.add_argument(
        "--days",
        type=positive,
        default=365.0,
        metavar="N",
        help="length (default: 365); after a year the same weather comes again",
    )
    parser.add_argument(
        "--seed",
        type=seeds,
        default=[0],
        metavar="N",
        help="of probe noise, made-up rain and invented years (default: 0); several with commas between",
    )
    parser.add_argument("--faults", metavar="FILE", help="what breaks, and when (TOML; see config/FAULTS.md)")
    parser.add_argument(
        "--strategy",
        type=strategies,
        default=["hypocaust"],
        metavar="NAME",
        help=f"what decides when fans are wanted: {', '.join(STRATEGY_NAMES)} (default: hypocaust); the "
        "safety rules are always the same; several with commas between",
    )
    parser.add_argument(
        "--pace",
        type=pace,
        metavar="TIME",
        help='longest time between two ticks of the controller, as "30 s" (default: 1 min, and 5 min for '
        "more than 31 days); float edges and timers are never waited past",
    )
    parser.add_argument("--json", action="store_true", help="print the summary as JSON, several as a list")
    parser.add_argument(
        "--schema", action="store_true", help="print the JSON Schema of what --json would print, and stop"
    )
    parser.add_argument("--out", metavar="DIR", help="also write tables (CSV) and pictures there")


def answer(parser: argparse.ArgumentParser, options: argparse.Namespace) -> int:
    """Rehearse, compare or print a schema, as the options say; return the exit code."""
    combined = len(options.weather) * len(options.strategy) * len(options.seed) * max(len(options.files), 1)
    if options.schema:
        return _schema(several=combined > 1)
    if not options.files:
        parser.error("FILE is missing: the settings file to rehearse")
    from controller.cli import compare, rehearse  # noqa: PLC0415 - only this command needs them

    files = [Path(file) for file in options.files]
    request = rehearse.Request(
        files[0],
        options.weather[0],
        options.start,
        options.days,
        options.seed[0],
        None if options.faults is None else Path(options.faults),
        options.strategy[0],
        options.json,
        None if options.out is None else Path(options.out),
        options.pace,
    )
    if combined == 1:
        return rehearse.rehearse(request)
    return compare.compare(compare.every(request, files, options.weather, options.strategy, options.seed))


def _schema(*, several: bool) -> int:
    from controller.cli.rehearse import print_schema  # noqa: PLC0415 - only this command needs it

    if several:
        from controller.rehearsal.report.compared_files import Summaries  # noqa: PLC0415

        return print_schema(Summaries)
    from controller.rehearsal.summary import Summary  # noqa: PLC0415

    return print_schema(Summary)
