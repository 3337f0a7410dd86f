"""Pictures of a report for the pages: ``python -m tests.lab.report_pictures HISTORY``.

HISTORY is a history file, as ``hypocaust rehearse config/house.toml --history HISTORY`` writes it. The report
of it is shown at the width of a desk and of a telephone by Chromium without a screen, and the upper part of
each is kept as a PNG of few colours, so that it stays small. The browser gets a directory of its own and
needs no network.
"""

from __future__ import annotations

import argparse
import subprocess
import tempfile
from pathlib import Path

from PIL import Image

from controller.cli import main as hypocaust

ROOT = Path(__file__).parents[2]
SIZES = {"report-desk": (1000, 1460), "report-phone": (390, 1800)}
COLOURS = 160
OPTIONS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--no-first-run",
    "--hide-scrollbars",
)


def shown(browser: str, page: Path, size: tuple[int, int], picture: Path) -> None:
    """Let the browser show the upper part of a page and keep it."""
    width, height = size
    subprocess.run(
        [
            browser,
            *OPTIONS,
            f"--user-data-dir={picture.parent / 'browser'}",
            f"--window-size={width},{height}",
            f"--screenshot={picture}",
            page.as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=300,
    )


def main() -> None:
    """Write the report, show it, keep the pictures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("history")
    parser.add_argument("--file", default=str(ROOT / "config" / "house.toml"))
    parser.add_argument("--into", type=Path, default=ROOT / "config" / "evidence")
    parser.add_argument("--browser", default="chromium")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        page = Path(directory) / "report.html"
        if hypocaust(["report", options.file, "--history", options.history, "--out", str(page)]):
            raise SystemExit(1)
        for name, size in SIZES.items():
            raw = Path(directory) / f"{name}.png"
            shown(options.browser, page, size, raw)
            target = options.into / f"{name}.png"
            with Image.open(raw) as picture:
                few = picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
                few.save(target, optimize=True)
            print(f"{target}: {target.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
