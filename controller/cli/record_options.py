"""The commands that read what was written down: log, report, export, restore, replay, and their options."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from controller.cli.arguments import DEFAULT_FILE, Commands, add_recorded_range, date, default_file, positive

if TYPE_CHECKING:
    import argparse


def add_record_commands(commands: Commands[argparse.ArgumentParser]) -> None:
    """Add them."""
    _add_log(commands)
    _add_report(commands)
    _add_export(commands)
    _add_restore(commands)
    _add_replay(commands)


def _add_log(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("log", help="what happened, in sentences, from the history")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")
    when = '"yesterday", "3 days ago", "12 hours ago", 2026-01-31 or "2026-01-31 14:00"'
    parser.add_argument("--since", default="today", metavar="WHEN", help=f"today unless given: {when}")
    parser.add_argument("--until", metavar="WHEN", help="now unless given")
    parser.add_argument("--alarms", action="store_true", help="alarms only, and what people said of them")
    parser.add_argument("--loop", metavar="NAME", help="this loop or sump only")
    parser.add_argument("--history", metavar="FILE", help="read this history file (a backup, a copy)")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of --json, and stop")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_const", dest="form", const="json", help="for programs, in UTC")
    form.add_argument(
        "--csv", action="store_const", dest="form", const="csv", help="for a spreadsheet, in UTC"
    )

    def run(options: argparse.Namespace) -> int:
        from controller.cli.log import Request, log, print_schema  # noqa: PLC0415

        if options.schema:
            return print_schema()
        path = options.file if options.file is not None else default_file()
        asked = Request(
            path,
            options.history,
            options.since,
            options.until,
            options.alarms,
            options.loop,
            options.form or "text",
        )
        return log(asked, sys.stdout)

    parser.set_defaults(run=run)


def _add_report(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("report", help="what the store did, as one page to read, print and hand on")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")
    parser.add_argument("--history", metavar="FILE", help="read this history file (a copy, a rehearsal)")
    parser.add_argument(
        "--from",
        dest="first",
        type=date,
        metavar="DATE",
        help="first day, as 2026-01-31 (default: a year before the last, or the first on record)",
    )
    parser.add_argument(
        "--to", dest="last", type=date, metavar="DATE", help="last day (default: the newest on record)"
    )
    parser.add_argument(
        "--out",
        metavar="FILE",
        help='where to write it; "-" is standard output (default: a page named after its days, in this '
        "directory; JSON to standard output)",
    )
    parser.add_argument(
        "--price",
        type=positive,
        metavar="NUMBER",
        help="of a kWh of heat and of electricity, in any currency: what the store was worth",
    )
    parser.add_argument("--json", action="store_true", help="the numbers behind it for programs, SI and UTC")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of --json, and stop")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.report import Request, print_schema, report  # noqa: PLC0415

        if options.schema:
            return print_schema()
        first, last = (None if day is None else day.date() for day in (options.first, options.last))
        file = options.file or DEFAULT_FILE
        asked = Request(file, options.history, first, last, options.out, options.json, options.price)
        return report(asked, sys.stdout)

    parser.set_defaults(run=run)


def _add_export(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("export", help="the history as tables, for a spreadsheet or a program")
    add_recorded_range(parser)
    parser.add_argument("--out", metavar="DIR", type=Path, required=True, help="directory to write to")
    parser.add_argument("--format", dest="form", choices=("csv", "parquet"), default="csv")
    parser.add_argument("--force", action="store_true", help="replace tables that are there already")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.export import Request, export  # noqa: PLC0415

        path = options.file if options.file is not None else default_file()
        asked = Request(
            path, options.history, options.since, options.until, options.out, options.form, options.force
        )
        return export(asked, sys.stdout)

    parser.set_defaults(run=run)


def _add_restore(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "restore", help="put a backup in the history's place, with the service stopped"
    )
    parser.add_argument("backup", metavar="BACKUP", type=Path, help="a copy from the folder of backups")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")

    def run(options: argparse.Namespace) -> int:
        from controller.cli.restore import restore_history  # noqa: PLC0415

        return restore_history(options.backup, Path(options.file or DEFAULT_FILE), sys.stdout)

    parser.set_defaults(run=run)


def _add_replay(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("replay", help="recorded days once more, with these settings or with others")
    add_recorded_range(parser)
    parser.add_argument("--with", dest="other", metavar="FILE", type=Path, help="the settings to try")
    parser.add_argument("--changes", action="store_true", help="list what switches when, and why")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of --json, and stop")
    parser.add_argument(
        "--json", action="store_const", dest="form", const="json", default="text", help="for programs, in UTC"
    )

    def run(options: argparse.Namespace) -> int:
        from controller.cli.replay import Request, print_schema, replay_days  # noqa: PLC0415

        if options.schema:
            return print_schema()
        asked = Request(
            Path(options.file or DEFAULT_FILE),
            options.history,
            options.since,
            options.until,
            options.other,
            options.changes,
            options.form,
        )
        return replay_days(asked, sys.stdout)

    parser.set_defaults(run=run)
