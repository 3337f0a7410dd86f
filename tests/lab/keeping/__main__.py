"""``python -m tests.lab.keeping``: fills a history with years of a busy house and prints what it costs.

The example house (13 probes, 3 loops), 20 fan starts a day, readings every five minutes, thinned as the
daemon thins. Printed are the size after each year, what a backup takes, and how long a year's questions take.
``--file`` keeps the history.
"""

from __future__ import annotations

import argparse
import math
import sqlite3
import sys
import tempfile
import threading
import time
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from controller.history.backups import MONTHLY_BYTES, make
from controller.history.queries import History
from controller.history.story import story
from controller.settings.load import load
from tests.lab.keeping.decade import START, BusyHouse, fill
from tests.lab.pages import PRODUCTS, ROOT, made, page_option, write_page

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

T = TypeVar("T")
YEAR = 365
MEGABYTE = 1e6
MOST_MB = 500.0
# What the running program writes for history and memory, measured by tests.process.footprint.
WRITTEN_MB_A_DAY, MOST_WRITTEN_MB_A_DAY = 3.8, 5.0
MONTH_DAYS = 30.4
WAKES_S = 0.005


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """CPU seconds of a piece of work, and what it gave."""
    began_s = time.process_time()
    result = work()
    return time.process_time() - began_s, result


def size_mb(path: Path) -> float:
    """The size of a file."""
    return path.stat().st_size / MEGABYTE


def delays_s(busy: Callable[[], bool]) -> float:
    """The longest time by which a thread that wakes every few milliseconds came late meanwhile, in s."""
    worst_s = 0.0
    while busy():
        began_s = time.monotonic()
        time.sleep(WAKES_S)
        worst_s = max(worst_s, time.monotonic() - began_s - WAKES_S)
    return worst_s


def beside(path: Path) -> tuple[float, float, float]:
    """How late another thread comes during a backup, and without one; how long the backup took (s)."""
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        work = threading.Thread(target=make, args=(path, Path(folder), START.date()))
        began_s = time.monotonic()
        work.start()
        during_s = delays_s(work.is_alive)
        took_s = time.monotonic() - began_s
    ends_s = time.monotonic() + took_s
    return during_s, delays_s(lambda: time.monotonic() < ends_s), took_s


def questions(path: Path, days: int) -> list[tuple[str, float, int]]:
    """What people ask of a history, the CPU seconds it takes, and how many rows come."""
    end = START + timedelta(days=days)
    year, month = timedelta(days=YEAR), timedelta(days=31)
    asked: list[tuple[str, float, int]] = []
    with History(path) as history, closing(sqlite3.connect(path)) as plain:

        def ask(name: str, rows: Callable[[], Iterable[object]]) -> None:
            asked.append((name, *timed(lambda: sum(1 for _ in rows()))))

        ask("readings of the newest month", lambda: history.samples(end - month, end))
        ask("readings of the newest year", lambda: history.samples(end - year, end))
        ask("readings of the first year, by the hour", lambda: history.samples(START, START + year))
        ask("log of the newest year", lambda: story(history, end - year, end))
        ask("sums of each day of a year", lambda: history.days((end - year).date(), end.date()))
        since_ms = round((end - month).timestamp() * 1000)
        for name, query in (
            (
                "SQL: coldest bench of each day, a month",
                f"SELECT date(at_utc), min(temperature_c) FROM temperatures WHERE probe = 'bench' AND wall_ms >= {since_ms} GROUP BY 1",  # noqa: S608, E501 - our own number
            ),
            ("SQL: the view daily, all years", "SELECT * FROM daily"),
        ):
            ask(name, lambda query=query: plain.execute(query))
    return asked


def page(path: Path, sizes: list[tuple[int, float, int, int]], days: int) -> str:
    """What was found, as a page."""
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        copied_s, copy = timed(lambda: make(path, Path(folder), START.date()))
        backup_mb = size_mb(copy)
    during_s, without_s, took_s = beside(path)
    months = max(math.ceil(backup_mb * MEGABYTE / MONTHLY_BYTES), 1)
    backup_daily_mb = backup_mb / (months * MONTH_DAYS)
    daily_mb = WRITTEN_MB_A_DAY + backup_daily_mb
    lines = [
        "# What keeping the history costs",
        "",
        "13 probes every five minutes, 3 loops, 20 fan starts a day; fine readings for 400 days.",
        "",
        "| years | file, MB | pages | of them free |",
        "|---|---|---|---|",
        *(f"| {days / YEAR:.0f} | {mb:.1f} | {pages} | {free} |" for days, mb, pages, free in sizes),
        "",
        f"A backup of the last is {backup_mb:.1f} MB and took {copied_s:.1f} s of CPU, its check included.",
        f"At this size it is made every {months} months: {backup_daily_mb:.1f} MB a day beside the",
        f"{WRITTEN_MB_A_DAY} MB of the running program, {daily_mb:.1f} MB a day together.",
        "",
        f"While a backup was made on a thread of its own (in {took_s:.1f} s), another thread that wakes",
        f"every {WAKES_S * 1e3:.0f} ms came late by {during_s * 1e3:.0f} ms at most; without one by",
        f"{without_s * 1e3:.0f} ms.",
        "",
        "| question | CPU, s | rows |",
        "|---|---|---|",
        *(f"| {name} | {spent_s:.2f} | {rows} |" for name, spent_s, rows in questions(path, days)),
    ]
    within = sizes[-1][1] <= MOST_MB and daily_mb <= MOST_WRITTEN_MB_A_DAY
    lines += [
        "",
        f"Bars: {MOST_MB:.0f} MB, {MOST_WRITTEN_MB_A_DAY:.0f} MB a day: {'kept' if within else 'MISSED'}.",
    ]
    return "\n".join(lines) + "\n"


def main() -> int:
    """Fill, ask, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.keeping", description=__doc__)
    parser.add_argument("--years", type=float, default=10.0)
    parser.add_argument("--starts", type=int, default=20, help="fan starts a day")
    parser.add_argument("--file", type=Path, help="keep the history here")
    page_option(parser, PRODUCTS / "keeping.md")
    options = parser.parse_args()
    when = made()
    settings = load(ROOT / "config" / "house.toml")
    days = round(options.years * YEAR)
    sizes = []
    with tempfile.TemporaryDirectory() as folder:
        path = options.file or Path(folder) / "history.sqlite3"
        for written in fill(path, BusyHouse(settings, options.starts), days, settings.history.keep_fine_days):
            if written % YEAR == 0 or written == days:
                with closing(sqlite3.connect(path)) as connection:
                    pages, free = (
                        connection.execute(f"PRAGMA {name}").fetchone()[0]
                        for name in ("page_count", "freelist_count")
                    )
                    size = connection.execute("PRAGMA page_size").fetchone()[0]
                sizes.append((written, pages * size / MEGABYTE, pages, free))
                print(f"{written / YEAR:5.1f} years {sizes[-1][1]:7.1f} MB", flush=True)
        text = page(path, sizes, days)
    write_page(options.page, text, when)
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
