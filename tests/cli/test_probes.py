"""The command that lists the probes on the bus."""

from __future__ import annotations

import io
import tomllib
from typing import TYPE_CHECKING

from controller.cli.probes import probes

if TYPE_CHECKING:
    from pathlib import Path


def probe_file(directory: Path, probe_id: str, text: str) -> None:
    """A probe's ``w1_slave``."""
    (directory / probe_id).mkdir()
    (directory / probe_id / "w1_slave").write_text(text, encoding="ascii")


def test_lists_readings_troubles_and_lines_to_paste(tmp_path: Path) -> None:
    """Each probe is listed with what it reads or what ails it, and its lines are settings as they stand."""
    probe_file(
        tmp_path,
        "28-0316a2795e1f",
        "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n",
    )
    out = io.StringIO()
    assert probes(str(tmp_path), out) == 0
    assert "# 28-0316a2795e1f reads 25.1 °C now." in out.getvalue()
    assert tomllib.loads(out.getvalue()) == {"probes": {"NAME": {"id": "28-0316a2795e1f", "place": "PLACE"}}}


def test_names_troubles_and_other_parts(tmp_path: Path) -> None:
    """A silent probe is listed with its trouble; a thermometer of another kind is not offered."""
    probe_file(tmp_path, "28-0316a2795e1f", "")
    probe_file(tmp_path, "10-000802b3d1ca", "")
    out = io.StringIO()
    assert probes(str(tmp_path), out) == 0
    assert "# 28-0316a2795e1f does not answer." in out.getvalue()
    assert "10-000802b3d1ca is a DS18S20; only the DS18B20 can be used here." in out.getvalue()
    assert 'id = "10-000802b3d1ca"' not in out.getvalue()


def test_no_bus_is_one_clear_message(tmp_path: Path) -> None:
    """Without a bus the command says where it looked and what to do, and fails."""
    out = io.StringIO()
    assert probes(str(tmp_path / "gone"), out) == 2
    assert out.getvalue().startswith(f"No 1-wire bus at {tmp_path / 'gone'}: No such file or directory.")
    assert "dtoverlay=w1-gpio" in out.getvalue()
    assert out.getvalue().count("\n") == 1


def test_empty_bus_says_what_to_check(tmp_path: Path) -> None:
    """A bus without thermometers is distinguished from no bus."""
    out = io.StringIO()
    assert probes(str(tmp_path), out) == 2
    assert "no thermometer answers" in out.getvalue()
