"""Many houses on one broker."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from tests.broker import until
from tests.lab.many_houses.houses import Houses
from tests.telemetry import ticks

if TYPE_CHECKING:
    from tests.broker import Brokers

HOUSES = 200


@pytest.mark.broker
def test_two_hundred_houses_share_a_broker_and_come_back_when_it_does(brokers: Brokers) -> None:
    """Each is heard under its own name, before and after the broker was killed, and none needs a person."""
    # Without a limit, because the one that hears all of them is slower than they are.
    broker = brokers.open_to_all("log_type error", "max_queued_messages 0", "max_inflight_messages 0")
    with Houses(HOUSES, ticks.tick(), broker.port) as houses:
        sites = [house.settings.site.name for house in houses.all]
        heard = broker.recorder()
        until(lambda: houses.connected() == HOUSES, "every house is connected")
        houses.observe(houses.all)
        for site in sites:
            assert json.loads(heard.wait(f"hypocaust/{site}/status").payload)["site"] == site
        heard.close()
        broker.kill()
        until(lambda: houses.connected() == 0, "every house has noticed that the broker is gone")
        houses.observe(houses.all)
        broker.start()
        until(lambda: houses.connected() == HOUSES, "every house has come back")
        houses.observe(houses.all)
        heard = broker.recorder()
        for site in sites:
            heard.wait(f"hypocaust/{site}/status")
            assert json.loads(heard.wait(f"hypocaust/{site}/online").payload)["online"] is True
        until(lambda: not any(house.sender.waiting() for house in houses.all), "nothing waits any more")
