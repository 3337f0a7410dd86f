"""The settings reference is complete and is what the program says."""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

from controller.settings.reference import reference
from controller.settings.schema import Settings
from controller.settings.schema.quantities import plain_key
from controller.settings.wording import NAMED_TABLES, section_at

ROOT = Path(__file__).parents[2]


def test_the_page_in_the_repository_is_fresh():
    """After a change of a setting the page is written anew: python -m controller.settings.reference."""
    assert (ROOT / "config" / "REFERENCE.md").read_text(encoding="utf-8") == reference()


def test_the_command_prints_the_page(capsys, monkeypatch):
    """The page is made by running the module."""
    monkeypatch.delitem(sys.modules, "controller.settings.reference")
    runpy.run_module("controller.settings.reference", run_name="__main__")
    assert capsys.readouterr().out == reference()


def test_every_setting_stands_under_its_table():
    """No setting is left out of the page."""
    page = reference()
    for table in Settings.model_fields:
        named = table in NAMED_TABLES
        header = f"\n## [{table}.NAME]\n" if named else f"\n## [{table}]\n"
        part = page.split(header)[1].split("\n## ")[0]
        for name, field in section_at((table, "x") if named else (table,)).model_fields.items():
            assert f"**`{plain_key(name)}`**" in part
            assert field.description in part
