"""``hypocaust report``: one page, or JSON with its schema."""

from __future__ import annotations

import io
import json
from datetime import date
from typing import TYPE_CHECKING

import jsonschema
import pytest

from controller.cli import main
from controller.cli.report import Request, report
from controller.history.database import open_for_writing
from controller.settings.load import load
from tests.process.bench import ROOT
from tests.report.houses import START, House

if TYPE_CHECKING:
    from pathlib import Path

FILE = str(ROOT / "config" / "house.toml")


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Of four days."""
    path = tmp_path_factory.mktemp("history") / "history.sqlite3"
    return str(House(load(FILE), days=4).write(path))


def test_the_page_goes_where_it_is_asked_for(
    history: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whole or not at all, in the place of an older one, and with its headline on the screen."""
    target = tmp_path / "report.html"
    target.write_text("an older one", encoding="utf-8")
    assert main(["report", FILE, "--history", history, "--out", str(target)]) == 0
    shown = capsys.readouterr().out
    assert target.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert [file.name for file in tmp_path.iterdir()] == ["report.html"]
    assert "4 days on record" in shown
    assert str(target) in shown


def test_without_a_name_the_page_is_named_after_its_days(
    history: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the directory one works in; a part of the days can be asked for."""
    monkeypatch.chdir(tmp_path)
    assert main(["report", FILE, "--history", history, "--from", "2026-01-11", "--to", "2026-01-12"]) == 0
    (written,) = tmp_path.iterdir()
    assert written.name == "fellside-2026-01-11-to-2026-01-12.html"


def test_the_json_fits_its_schema(history: str, capsys: pytest.CaptureFixture[str]) -> None:
    """And is SI, whole, and in UTC."""
    assert main(["report", "--schema"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert main(["report", FILE, "--history", history, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(data, schema)
    assert data["days"][0]["date"] == str(START)
    assert data["money"] is None
    assert data["pictures"][0]["began"].endswith("Z")
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data | {"days": "none"}, schema)


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (["--from", "2026-02-01", "--to", "2026-01-01"], "--from 2026-02-01 is later than --to 2026-01-01"),
        (["--from", "2020-01-01"], "expected at most 731"),
        (["--out", "/nowhere/at/all.html"], "--out: /nowhere/at/all.html cannot be written"),
        (["--history", "/nowhere/history.sqlite3"], "there is no history at /nowhere/history.sqlite3"),
    ],
)
def test_what_cannot_be_used_is_named(
    options: list[str], expected: str, history: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With what to do, and without a page."""
    assert main(["report", FILE, "--history", history, *options]) == 2
    shown = capsys.readouterr()
    assert expected in shown.err
    assert shown.out == ""


def test_an_empty_history_and_bad_settings_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither is a defect of the program."""
    empty = tmp_path / "empty.sqlite3"
    open_for_writing(empty).close()
    assert main(["report", FILE, "--history", str(empty)]) == 2
    assert "holds nothing with a time yet" in capsys.readouterr().err
    assert main(["report", str(tmp_path / "no.toml"), "--history", str(empty)]) == 2
    assert "no.toml" in capsys.readouterr().err


def test_days_without_any_record_make_a_page_that_says_so(history: str) -> None:
    """It is written all the same, so that a script that asks for a month gets one."""
    out = io.StringIO()
    asked = Request(FILE, history, date(2025, 1, 1), date(2025, 1, 31), "-", as_json=False)
    assert report(asked, out) == 0
    assert "Nothing is on record for these days" in out.getvalue()
