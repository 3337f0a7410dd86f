"""``hypocaust rehearse`` with more than one rehearsal."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from controller.cli import compare, main
from controller.cli.compare import names_of
from controller.cli.rehearse import Request, Unusable
from controller.rehearsal.worker import Failed
from tests.cli.interrupt import interrupted

# Each process may have to compile the model first, on a machine that is busy with other tests.
pytestmark = pytest.mark.timeout(400)
ROOT = Path(__file__).parents[2]
HOUSE = str(ROOT / "config" / "house.toml")
ONE_LOOP = str(ROOT / "config" / "one-loop.toml")


def request(file="a.toml", weather="carolina", strategy="hypocaust", seed=0):
    """One of several."""
    return Request(Path(file), weather, None, 1.0, seed, None, strategy, as_json=False, out=None)


def schema(capsys):
    """The schema of a list, as it is printed."""
    assert main(["rehearse", "--strategy", "hypocaust,fans-off", "--schema"]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.rehearsal
def test_json_is_a_list_of_named_summaries_that_fits_its_schema(capsys):
    """Every combination is there, in the order of the options, and distinguished by name."""
    validator = Draft202012Validator(schema(capsys))
    arguments = ["--strategy", "hypocaust,fans-off", "--weather", "carolina,miami-2K", "--days", "0.05"]
    assert main(["rehearse", HOUSE, *arguments, "--json"]) == 0
    printed = capsys.readouterr()
    summaries = json.loads(printed.out)
    assert printed.err == ""
    validator.validate(summaries)
    assert [summary["name"] for summary in summaries] == [
        "carolina, hypocaust",
        "carolina, fans-off",
        "miami-2K, hypocaust",
        "miami-2K, fans-off",
    ]
    assert [summary["strategy"] for summary in summaries] == ["hypocaust", "fans-off"] * 2
    assert "2 K colder" in summaries[3]["weather"]
    summaries[2]["house"]["air_min_c"] = None
    assert not validator.is_valid(summaries)


@pytest.mark.rehearsal
def test_out_gives_each_rehearsal_a_directory_and_the_comparison_its_files(tmp_path, capsys):
    """Table, picture and summaries stand beside the rehearsals' own directories, which the table names."""
    out = tmp_path / "out"
    assert main(["rehearse", HOUSE, ONE_LOOP, "--days", "0.2", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert said.endswith(
        f"Written to {out}: comparison.json, comparison.csv, comparison.png, "
        "and a directory for each rehearsal\n"
    )
    with (out / "comparison.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert [row["name"] for row in table] == ["house", "one-loop"]
    for row in table:
        own = json.loads((out / row["directory"] / "summary.json").read_text(encoding="utf-8"))
        assert float(row["air_min_c"]) == pytest.approx(own["house"]["air_min_c"], rel=1e-3)
        assert (out / row["directory"] / "week.png").is_file()
    assert len(json.loads((out / "comparison.json").read_text(encoding="utf-8"))) == 2
    lines = said.splitlines()[:-1]
    assert max(map(len, lines)) <= 80
    assert lines[0] == "2 rehearsals, 0.2 days each, 1 January to 1 January"


@pytest.mark.rehearsal
@pytest.mark.parametrize("weather", ["carolina,atlantis", "atlantis,carolina"])
def test_one_that_cannot_be_rehearsed_ends_all_with_one_message(capsys, weather):
    """It is named, and no rehearsal goes on."""
    assert main(["rehearse", HOUSE, "--weather", weather, "--days", "300"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("atlantis: --weather: atlantis: no such file")
    assert printed.err.count("\n") == 1


@pytest.mark.rehearsal
def test_a_defect_in_one_is_one_message_and_an_exit_code_of_its_own(capsys, monkeypatch):
    """A person learns which rehearsal to run alone to learn more."""
    monkeypatch.setattr(
        "controller.rehearsal.worker.Worker.receive", lambda _worker: Failed("KeyError: 'x'", defect=True)
    )
    assert main(["rehearse", HOUSE, "--strategy", "hypocaust,fans-off", "--days", "0.1"]) == 3
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("rehearse: hypocaust broke off: KeyError: 'x'\n")
    assert "Traceback" not in printed.err


@pytest.mark.process
def test_the_interrupt_key_ends_all_with_one_message():
    """Every process ends, and the message says how many rehearsals were finished."""
    code, out, err = interrupted(HOUSE, "--strategy", "hypocaust,fans-off,fans-always", "--days", "3650")
    assert (code, out) == (130, "")
    assert err == "rehearse: stopped after 0 of 3 rehearsals\n"


def test_names_hold_what_differs_and_no_more():
    """File names are shortened as long as they still distinguish the files."""
    assert names_of([request("x/a.toml"), request("y/b.toml")]) == ["a", "b"]
    assert names_of([request("x/a.toml"), request("y/a.toml")]) == ["x/a.toml", "y/a.toml"]
    assert names_of([request(seed=1), request(seed=2)]) == ["seed 1", "seed 2"]
    pair = [request(weather="w/tromso.epw", seed=1), request(weather="carolina-8K", seed=2)]
    assert names_of(pair) == ["tromso, seed 1", "carolina-8K, seed 2"]


@pytest.mark.parametrize("count", [2, 25])
def test_the_same_twice_and_too_many_are_refused(count):
    """A mistyped list does not cost an hour."""
    with pytest.raises(Unusable, match="expected at most 24" if count > 24 else "asked for twice: a.toml"):
        names_of([request()] * count)


def test_every_bad_file_is_told(tmp_path, capsys):
    """What is wrong with any of the files is reported before the work, each error once."""
    for name in ("one", "two"):
        text = Path(HOUSE).read_text(encoding="utf-8").replace("tubes = 24", f'tubes = "{name}"', 1)
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    arguments = [str(tmp_path / "one.toml"), str(tmp_path / "two.toml"), "--strategy", "hypocaust,fans-off"]
    assert main(["rehearse", *arguments]) == 2
    said = capsys.readouterr().err.splitlines()
    assert [Path(line.split(":")[0]).name for line in said] == ["one.toml", "two.toml"]


def test_combinations_keep_the_rest_of_the_request(monkeypatch):
    """Files change slowest and seeds fastest; length, start, faults and output are shared."""
    seen = []
    monkeypatch.setattr(compare, "compare", lambda requests: seen.append(requests) or 0)
    arguments = "a.toml b.toml --seed 1,2 --start 2026-05-04 --days 3 --faults f.toml --out o --json"
    assert main(["rehearse", *arguments.split()]) == 0
    (requests,) = seen
    assert [(str(r.file), r.seed) for r in requests] == [
        ("a.toml", 1), ("a.toml", 2), ("b.toml", 1), ("b.toml", 2),
    ]  # fmt: skip
    for shared in requests:
        assert (shared.days, shared.first_day.month, shared.as_json) == (3.0, 5, True)
        assert (shared.faults, shared.out) == (Path("f.toml"), Path("o"))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--strategy", "hypocaust,lazy"], '"lazy" is not a strategy; expected hypocaust, fans-off'),
        (["--seed", "1,two"], '"1,two" is not a whole number'),
    ],
)
def test_lists_that_cannot_be_read_are_told(capsys, arguments, said):
    """The part that is wrong is named."""
    with pytest.raises(SystemExit):
        main(["rehearse", HOUSE, *arguments])
    assert said in capsys.readouterr().err
