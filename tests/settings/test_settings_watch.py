"""Reloading: good changes are taken over, wiring waits for a restart, bad files change nothing."""

from __future__ import annotations

from itertools import count
from os import utime

import pytest

from controller.settings.load import load, parse
from controller.settings.watch import LIVE_TABLES, Accepted, Rejected, SettingsWatch
from controller.units import TemperatureUnit
from tests.settings.edit import changed

# Two saves within one tick of the file system's clock look like one, so each save gets a time of its own.
SAVED_AT_NS = count(1_800_000_000_000_000_000, 1_000_000)


class Saved:
    """A settings file that is being edited, and the watch on it."""

    def __init__(self, path, text):
        self.path = path
        self.text = text
        self.save(text)
        self.active = load(path)
        self.watch = SettingsWatch(path, self.active)

    def save(self, text):
        """Write the file as an editor does."""
        self.path.write_text(text, encoding="utf-8")
        at_ns = next(SAVED_AT_NS)
        utime(self.path, ns=(at_ns, at_ns))

    def change(self, values, text=None):
        """Put other values into the original file (or another text) and save."""
        self.save(changed(self.text if text is None else text, values))

    def look_twice(self):
        """What two looks bring, the first of which must stay silent."""
        assert self.watch.poll() is None
        return self.watch.poll()


@pytest.fixture
def file(tmp_path, house):
    """The sample house on disk, watched, with the first looks done."""
    saved = Saved(tmp_path / "house.toml", house)
    assert saved.watch.poll() is None
    assert saved.watch.poll() is None
    return saved


WARMER_C = 8.5
WARMER = {"setpoints.heat_below": '"8.5 °C"'}
TYPO = {"setpoints.heat_below": '"8"'}


def test_an_untouched_file_says_nothing(file):
    """As long as nothing is saved there is no news."""
    assert [file.watch.poll() for _ in range(5)] == [None] * 5


def test_a_changed_setpoint_is_taken_over_once(file):
    """The new value is in force, named, and not announced again."""
    file.change(WARMER)
    result = file.look_twice()
    assert isinstance(result, Accepted)
    assert result.settings.setpoints.heat_below_c == WARMER_C
    assert result.changed == ("setpoints.heat_below",)
    assert result.needs_restart == ()
    assert file.watch.poll() is None


def test_a_change_made_while_the_controller_started_is_noticed(tmp_path, house):
    """Between reading the file and the first look it may have been saved again."""
    saved = Saved(tmp_path / "house.toml", house)
    saved.change(WARMER)
    result = saved.look_twice()
    assert isinstance(result, Accepted)
    assert result.changed == ("setpoints.heat_below",)


def test_a_file_that_is_away_at_the_first_look_gets_a_second(tmp_path, house):
    """An editor may be between removing and writing the file just when the watch begins."""
    saved = Saved(tmp_path / "house.toml", house)
    saved.path.unlink()
    assert saved.watch.poll() is None
    assert isinstance(saved.watch.poll(), Rejected)


def test_saving_without_a_change_says_nothing(file):
    """A new time stamp or a new comment alone is no news."""
    file.save(file.text + "\n# a remark\n")
    assert file.look_twice() is None


def test_only_the_display_unit_of_the_site_is_taken_over(file):
    """The unit people read changes at once; the name of the site, part of every topic, does not."""
    file.change({"site.show": '"°F"', "site.name": '"hillside"'})
    result = file.look_twice()
    assert isinstance(result, Accepted)
    assert result.settings.site.show is TemperatureUnit.FAHRENHEIT
    assert result.settings.site.name == "fellside"
    assert result.changed == ("site.show",)
    assert result.needs_restart == ("site.name",)


def test_wiring_stays_as_it_is_until_a_restart_and_is_named(file):
    """A moved pin, a new probe and a dropped table are reported, not applied; setpoints beside them are."""
    mqtt = file.text[file.text.index("[mqtt]") : file.text.index("[house]")]
    shade = '[probes.shade]\nid = "28-0000000000ff"\nplace = "bench"\n\n[probes.outdoor]'
    rewired = file.text.replace(mqtt, "").replace("[probes.outdoor]", shade)
    file.change({**WARMER, "loops.north.fan_pin": "18"}, rewired)
    result = file.look_twice()
    assert isinstance(result, Accepted)
    assert result.changed == ("setpoints.heat_below",)
    assert result.needs_restart == ("mqtt", "loops.north.fan_pin", "probes.shade")
    assert result.settings.loops == file.active.loops
    assert result.settings.probes == file.active.probes
    assert result.settings.mqtt == file.active.mqtt
    assert result.settings.setpoints.heat_below_c == WARMER_C


def test_wiring_put_back_needs_no_restart_any_more(file):
    """The list of what waits for a restart is reported again when it changes, also when it empties."""
    file.change({"loops.north.fan_pin": "18"})
    assert file.look_twice().needs_restart == ("loops.north.fan_pin",)
    file.save(file.text)
    result = file.look_twice()
    assert isinstance(result, Accepted)
    assert result.needs_restart == ()


@pytest.mark.parametrize("table", LIVE_TABLES)
def test_every_live_table_is_taken_over(file, table):
    """Each table that is promised to change while the controller runs does."""
    name, value = {
        "setpoints": ("too_hot", '"41.5 °C"'),
        "fans": ("stagger", '"41 s"'),
        "pump": ("starts_per_hour", "6"),
        "fire": ("level", '"66.5 °C"'),
        "judging": ("vote_spread", '"7.5 K"'),
    }[table]
    file.change({f"{table}.{name}": value})
    result = file.look_twice()
    assert isinstance(result, Accepted)
    assert getattr(result.settings, table) == getattr(load(file.path), table)
    assert getattr(result.settings, table) != getattr(file.active, table)
    assert result.needs_restart == ()


def test_a_bad_file_is_rejected_once_and_the_last_good_stays(file):
    """The problems come with file and line; mending the file is answered even if nothing changed."""
    file.change(TYPO)
    result = file.look_twice()
    assert isinstance(result, Rejected)
    (problem,) = result.problems
    assert problem.key == "setpoints.heat_below"
    assert result.text.startswith(f"{file.path}:{problem.line}: setpoints.heat_below: ")
    assert file.watch.poll() is None
    file.save(file.text)
    mended = file.look_twice()
    assert mended == Accepted(file.active, (), (), file.text)
    file.save(file.text)
    assert file.look_twice() is None


def test_a_different_mistake_is_told_again(file):
    """A person who mends one mistake and makes another hears of the other."""
    file.change(TYPO)
    assert isinstance(file.look_twice(), Rejected)
    file.change({"pump.starts_per_hour": "0"})
    result = file.look_twice()
    assert isinstance(result, Rejected)
    assert [problem.key for problem in result.problems] == ["pump.starts_per_hour"]


def test_a_save_in_two_steps_raises_no_alarm(file):
    """Half a file that is whole at the next look is neither rejected nor believed."""
    file.save(file.text[:3000])
    assert file.watch.poll() is None
    file.change(WARMER)
    result = file.look_twice()
    assert isinstance(result, Accepted)
    assert result.changed == ("setpoints.heat_below",)


def test_half_a_file_that_happens_to_be_good_is_not_believed(file):
    """A file cut at a table's end can be good by itself; it still has to hold still first."""
    cut = file.text[: file.text.index("[house]")]
    assert parse(cut).site.name == "fellside"
    file.save(cut)
    assert file.watch.poll() is None
    file.save(file.text)
    assert file.look_twice() is None


def test_a_file_that_is_replaced_raises_no_alarm(file):
    """Editors remove the old file and move a new one in its place."""
    file.path.unlink()
    assert file.watch.poll() is None
    file.change(WARMER)
    assert isinstance(file.look_twice(), Accepted)


def test_a_file_that_stays_away_is_rejected_once(file):
    """A vanished file changes nothing but is told."""
    file.path.unlink()
    result = file.look_twice()
    assert isinstance(result, Rejected)
    assert "cannot be read" in result.text
    assert file.watch.poll() is None
    file.save(file.text)
    assert isinstance(file.look_twice(), Accepted)


def test_a_new_file_of_the_same_size_and_time_is_noticed(file):
    """A file moved into place may carry the old time stamp; it still is another file."""
    roomy = file.text + "\n" * 20
    file.save(roomy)
    assert file.look_twice() is None
    status = file.path.stat()
    other = file.path.with_suffix(".new")
    other.write_text(changed(roomy, WARMER)[: len(roomy)].ljust(len(roomy), "\n"), encoding="utf-8")
    utime(other, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert other.stat().st_size == status.st_size
    other.replace(file.path)
    assert isinstance(file.look_twice(), Accepted)


def test_a_forced_look_answers_at_once_and_always(file):
    """A person who asks for a reload gets an answer, good, bad or unchanged."""
    assert file.watch.force() == Accepted(file.active, (), (), file.text)
    file.change(TYPO)
    assert isinstance(file.watch.force(), Rejected)
    assert file.look_twice() is None
    file.change(WARMER)
    result = file.watch.force()
    assert isinstance(result, Accepted)
    assert result.settings.setpoints.heat_below_c == WARMER_C
    assert file.look_twice() is None


def test_changes_add_up(file):
    """Each reload is compared with what is in force, not with what the controller started with."""
    file.change(WARMER)
    file.look_twice()
    file.change({**WARMER, "pump.starts_per_hour": "6"})
    result = file.look_twice()
    assert result.changed == ("pump.starts_per_hour",)
    assert result.settings.setpoints.heat_below_c == WARMER_C


def test_setpoints_that_fit_only_the_new_wiring_are_rejected(file):
    """A good file is still wrong if its live part contradicts the wiring that stays in force."""
    file.change({"judging.air_hold": '"1 min"', "board.sample_every": '"2 s"'})
    assert isinstance(file.look_twice(), Accepted)
    slow = Saved(file.path, changed(file.text, {"board.sample_every": '"2 min"'}))
    slow.change({"judging.air_hold": '"1 min"', "board.sample_every": '"14 s"'})
    result = slow.look_twice()
    assert isinstance(result, Rejected)
    (problem,) = result.problems
    assert problem.key == "judging.air_hold"
    assert result.text.startswith(f"{slow.path}:{problem.line}: judging.air_hold: ")
    assert "holds for 1 min and a new one comes every 120 s" in problem.message
    assert problem.message.endswith("(restart to put the new wiring in force first)")
