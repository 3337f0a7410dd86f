"""A file as far as it could be read, and how its values are quoted."""

from __future__ import annotations

import tomllib

import pytest

from controller.settings.draft import draft_of_document, draft_of_settings
from controller.settings.load import parse
from controller.settings.schema import Fans, Service, Site


@pytest.mark.parametrize("file", ["house", "small"])
def test_good_settings_and_their_file_give_the_same_draft(request, file):
    """What is known of a good file is the same whether the file or the settings in force are looked at."""
    text = request.getfixturevalue(file)
    document = tomllib.loads(text)
    draft = draft_of_document(document)
    assert draft == draft_of_settings(parse(text), document)
    assert draft.probes_whole
    assert draft.fans is not None


def test_a_bad_table_is_left_out_and_its_name_kept(house):
    """Tables that are bad by themselves are left out; bad loops, sumps and probes are counted."""
    document = tomllib.loads(house)
    document["fans"]["purge"] = "5"
    document["loops"]["north"]["tubes"] = "many"
    document["sumps"]["main"] = 3
    document["probes"]["bench"]["place"] = "roof"
    draft = draft_of_document(document)
    assert draft.fans is None
    assert draft.pump is not None
    assert set(draft.loops) == {"middle", "south"}
    assert draft.loop_names == {"north", "middle", "south"}
    assert (set(draft.sumps), draft.sump_names) == (set(), {"main"})
    assert "bench" not in draft.probes
    assert not draft.probes_whole


def test_values_where_tables_belong_are_nothing():
    """A file that has loops, sumps and probes as plain values has none of them."""
    draft = draft_of_document({"loops": 3, "sumps": "main", "probes": [1]})
    assert (draft.loops, draft.sumps, draft.probes) == ({}, {}, {})
    assert (draft.loop_names, draft.sump_names) == (frozenset(), frozenset())
    assert draft.mqtt is None


def test_a_key_is_written_if_it_stands_in_its_table():
    """Neither a table that is a value nor one that is not there holds a key."""
    draft = draft_of_document({"fans": {"purge": "5 min"}, "pump": 3})
    assert draft.is_written("fans")
    assert draft.is_written("fans", "purge")
    assert not draft.is_written("fans", "stagger")
    assert not draft.is_written("pump", "drain_down")
    assert not draft.is_written("fire", "level")
    assert not draft.is_written("fans", "purge", "deeper")


def test_a_value_is_quoted_as_written_as_the_default_or_in_si():
    """The person's own words come first; a value that stands nowhere is shown in the unit of the program."""
    draft = draft_of_document({"fans": {"purge": "330 s", "heat_per_watt": 5.5}})
    fans = Fans.model_validate({"purge": "330 s", "stagger": "1.5 min", "heat_per_watt": 6.25})
    assert draft.as_written(fans, "fans", "purge_s") == "330 s"
    assert draft.as_written(fans, "fans", "heat_per_watt") == "5.5"
    assert draft.as_written(fans, "fans", "stagger_s") == "90 s"
    assert draft.as_written(Service(), "service", "tick_s") == "10 s (the default)"
    site = {"name": "hill", "title": "XAVER MAX"}
    assert draft_of_document({"site": site}).as_written(Site(**site), "site", "title") == "XAVER MAX"
    nothing = draft_of_document({})
    assert nothing.as_written(fans, "fans", "heat_per_watt") == "6.25"
    assert nothing.as_written(fans, "fans", "minimum_run_s") == "20 min (the default)"
