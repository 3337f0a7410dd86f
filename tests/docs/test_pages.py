"""Pages with measured numbers say when and with which commit they were made, and no other product is kept."""

from __future__ import annotations

import re
import subprocess
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from tests.lab.pages import PRODUCTS, ROOT, made, write_page

if TYPE_CHECKING:
    from pathlib import Path

PAGES = sorted(
    str(path.relative_to(ROOT))
    for path in (ROOT / "tests").rglob("*.md")
    if path.name != "README.md" and path.read_text(encoding="utf-8").startswith("# ")
)
# Long by nature, and read as they are: settings with their reference, the description of messages, pins.
LONG = {"config/REFERENCE.md", "config/house.toml", "requirements.lock", "controller/telemetry/asyncapi.json"}
LONGEST_LINES = 400
LARGEST_PICTURE = 150_000


def git(folder: Path, *words: str) -> str:
    """What git says in a folder."""
    person = ["-c", "user.name=a", "-c", "user.email=a@example.org"]
    done = subprocess.run(["git", *person, *words], cwd=folder, capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_a_page_is_dated_with_the_commit_at_hand(tmp_path: Path) -> None:
    """And says so if the files are not those of that commit, or if it has no commit."""
    today = str(datetime.now(tz=UTC).date())
    assert made(tmp_path) == f"{today}, no commit"
    git(tmp_path, "init", "-q")
    (tmp_path / "file").write_text("one", encoding="utf-8")
    git(tmp_path, "add", "file")
    git(tmp_path, "commit", "-q", "-m", "one")
    commit = git(tmp_path, "rev-parse", "--short", "HEAD")
    assert made(tmp_path) == f"{today}, {commit}"
    (tmp_path / "file").write_text("two", encoding="utf-8")
    assert made(tmp_path) == f"{today}, {commit} with changes"


def test_the_date_stands_below_the_heading(tmp_path: Path) -> None:
    """In a folder that is made for it; the rest of the page is as it was."""
    write_page(tmp_path / "new" / "page.md", "# Heat\n\n| a |\n", "2026-11-29, abc")
    text = (tmp_path / "new" / "page.md").read_text(encoding="utf-8")
    assert text == "# Heat\n\nMeasured: 2026-11-29, abc.\n\n| a |\n"


@pytest.mark.parametrize("page", PAGES)
def test_every_page_in_the_repository_says_when_it_was_measured(page: str) -> None:
    """With the date and the commit, for the whole of it, for each set of rows, or in each row."""
    text = (ROOT / page).read_text(encoding="utf-8")
    when = r"\d{4}-\d\d-\d\d, [0-9a-f]{7,}"
    assert re.search(rf"^(Measured: |- played |\| [^|]+ \| ){when}", text, re.MULTILINE)


def test_products_are_ignored_by_git_and_none_is_kept() -> None:
    """What a program writes is not in the repository; a long file there has its reason."""
    if not (ROOT / ".git").exists():
        pytest.skip("this is no working copy")
    assert git(ROOT, "check-ignore", str(PRODUCTS / "anything"))
    long = {
        name
        for name in git(ROOT, "ls-files").splitlines()
        if not name.endswith((".py", ".png")) and (ROOT / name).exists()
        if len((ROOT / name).read_bytes().splitlines()) > LONGEST_LINES
    }
    assert long <= LONG


def test_every_picture_is_small_and_shown_on_the_page_beside_it() -> None:
    """A picture of the docs is drawn anew by a command and must not make the repository heavy."""
    pictures = [ROOT / name for name in git(ROOT, "ls-files", "*.png", "*.jpg").splitlines()]
    for picture in pictures:
        page = (picture.parent / "README.md").read_text(encoding="utf-8")
        assert f"]({picture.name})" in page
        assert picture.stat().st_size <= LARGEST_PICTURE
