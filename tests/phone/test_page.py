"""The phone page of ``config/phone/``, in a real browser, from the real broker."""

from __future__ import annotations

import json
import os
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest

from controller.clock import SystemClock
from controller.settings.schema import Mqtt
from controller.telemetry.publisher import Publisher
from controller.telemetry.sender import Sender
from tests.broker import until
from tests.phone.said import FROST, PROBE, House, moment
from tests.telemetry import ticks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tests.phone.browser import Browser, Page
    from tests.shipped import Shipped

pytestmark = pytest.mark.broker
PHONE, DESK = 360, 1100
NOT_WIDER = "document.documentElement.scrollWidth <= innerWidth"
UNKNOWN = {"temperature_c": None, "why": "does not answer", "age_s": 500.0}


@pytest.fixture
def opened(browser: Browser, broker: Shipped) -> Iterator[Callable[..., Page]]:
    """Opens the page at a house (or the overview) and signs in."""
    pages = []

    def open_page(
        site: str = "fellside", width: int = PHONE, *, sign_in: bool = True, dark: bool = False
    ) -> Page:
        page = browser.page(width, dark=dark)
        pages.append(page)
        page.open(f"http://localhost:{broker.page}/#{site}")
        if sign_in:
            page.run("document.getElementById('password').focus()")
            page.type(broker.viewer)
            page.press("Enter", 13)
        return page

    yield open_page
    for page in pages:
        page.close()


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.usefixtures("house")
def test_a_house_that_is_fine(opened: Callable[..., Page], width: int) -> None:
    """Air, soil, fans and why, water, curves and year, on a phone and a desk; nothing sticks out."""
    page = opened(width=width)
    page.until_text("The year's heat")
    text = page.text()
    for words in (
        "Fellside school garden",
        "No alarm calls.",
        "24.0 °C",
        "north: banking heat",
        "Banking heat while the ceiling is at least 1.0 K warmer than the soil",
        "south: off, may not run now",
        "low-corner: dry; pump off",
        "200 kWh into the soil, 100 kWh out of it, for 10 kWh of electricity.",
        "under the roof 31 to 31, last 31.2 °C",
    ):
        assert words in text
    assert page.run(NOT_WIDER)
    assert page.run("document.querySelectorAll('#curves path.line').length") == 3
    assert page.complaints() == []
    asked = {urlsplit(event["request"]["url"]).hostname for event in page.events("Network.requestWillBeSent")}
    assert asked - {None, ""} == {"localhost"}


def test_an_alarm_shows_what_to_do_as_soon_as_it_comes(opened: Callable[..., Page], house: House) -> None:
    """What is urgent stands first, with cause, consequence, action and time; what was seen stands last."""
    page = opened()
    page.until_text("No alarm calls.")
    house.status(alarms=[PROBE, FROST, FROST | {"subject": "seen one", "seen": True}])
    page.until_text("Act now: frost and 1 more.")
    text = page.text()
    for words in (
        "act within 1 hour",
        "Air 1.2 °C",
        "Light a flued or electric heater",
        "The crop is colder than its limit.",
        "The crop freezes before the morning.",
        "This week: probe (ridge)",
        "seen by somebody",
    ):
        assert words in text
    order = [
        text.index(words) for words in ("Act now: frost\n", "This week: probe", "Act now: frost (seen one)")
    ]
    assert order == sorted(order)
    shapes = page.run(
        "[...document.querySelectorAll('.alarms .shape')].map(s => s.innerHTML + s.classList.length)"
    )
    assert len(set(shapes)) == 3  # told apart by shape, also without colour
    assert page.run("document.getElementById('state').dataset.kind") == "act now"


def test_people_who_read_fahrenheit_get_it(opened: Callable[..., Page], house: House) -> None:
    """Numbers of messages are °C; the page shows the unit of the house's settings, in curves too."""
    house.status(unit="°F")
    page = opened()
    page.until_text("75.3 °F")
    page.until_text("last 88.2 °F")
    text = page.text()
    assert "°C" not in text.replace("31.2 °C over 14.2 °C", "")  # the reason is the controller's own sentence


def test_a_reading_that_is_missing_says_why(opened: Callable[..., Page], house: House) -> None:
    """Never a number in its place, and no line for a probe that is not fitted."""
    house.status(house={"ceiling": UNKNOWN, "bench": UNKNOWN, "outdoor": UNKNOWN | {"why": "is not fitted"}})
    page = opened()
    page.until_text("Among the crop")
    assert (
        page.run("[...document.querySelectorAll('.air dd')].map(d => d.innerText)") == ["does not answer"] * 2
    )


def test_the_night_that_comes(opened: Callable[..., Page], house: House) -> None:
    """How cold, how sure, what the store does and whether a heater is needed; without an outlook, why not."""
    night = {
        "low_c": 3.1,
        "low_from_c": 0.8,
        "low_to_c": 5.4,
        "without_store_c": 0.4,
        "store": "lasts until",
        "store_lasts_until": moment()[:11] + "05:30:00Z",
        "heater": "keep it ready",
        "words": "Tonight about 3.1 °C.",
        "valid_for_s": 2700.0,
        "at": moment(),
    }
    house.say("tonight", night)
    page = opened()
    page.until_text("About 3.1 °C (0.8 to 5.4) among the crop")
    text = " ".join(page.text().split())
    assert "Heater: keep it ready" in text
    assert "The store lasts until 05:30" in text
    assert "Without the store about 0.4 °C" in text
    house.say("tonight", {"low_c": None, "words": "10 nights must be seen first", "at": moment()})
    page.until_text("10 nights must be seen first.")
    assert "About 3.1" not in page.text()


@pytest.mark.parametrize(
    ("make", "first", "more"),
    [
        (lambda house: house.status(ago_s=1200), "Not fresh.", "must not be taken for the present"),
        (lambda house: house.status(at=None, clock_set=False), "Not fresh.", "nobody can say how long ago"),
        (lambda house: house.say("status", None), "No status.", "has been silent for minutes"),
        (
            lambda house: house.online(online=False, why="stopped"),
            "The controller was stopped at",
            "Every fan and pump is off",
        ),
        (
            lambda house: house.online(online=False, why="connection lost"),
            "The controller has lost the broker.",
            "nobody can see what the fans and pumps do",
        ),
    ],
    ids=["stale", "no clock", "expired", "stopped", "lost"],
)
def test_what_is_old_is_called_old(
    opened: Callable[..., Page], house: House, make: Callable[[House], None], first: str, more: str
) -> None:
    """In words on top, and beside each number that was true once; the curves stay: they are of the past."""
    make(house)
    page = opened()
    page.until_text(first)
    assert more in page.text()
    numbers = page.run("[...document.querySelectorAll('.number')].map(d => d.innerText)")
    assert all(number.startswith("was ") for number in numbers)
    page.until_text("Last two days")


def test_without_a_status_the_alarms_stand_as_the_broker_keeps_them(
    opened: Callable[..., Page], house: House
) -> None:
    """Minutes after a power cut the status has expired, the alarms have not; they are called old."""
    house.say("status", None)
    house.online(online=False, why="connection lost")
    house.say(
        "alarm/frost", {**FROST, "subjects": [{"subject": "bench", "detail": "air 1.2 °C", "since_s": 60}]}
    )
    page = opened()
    page.until_text("Alarms as they stood")
    assert "Act now: frost (bench)" in page.text()
    house.say("alarm/frost", None)
    page.until("!document.body.innerText.includes('Alarms as they stood')")


def test_a_status_without_a_clock_is_fresh_when_it_has_just_come(
    opened: Callable[..., Page], house: House
) -> None:
    """The phone counts from when it heard it; that the board has no time of day is said."""
    page = opened()
    page.until_text("No alarm calls.")
    house.status(at=None, clock_set=False)
    page.until_text("The board's clock is not set")
    assert "No alarm calls." in page.text()


def test_a_broker_that_goes_and_comes_back(
    opened: Callable[..., Page], house: House, broker: Shipped
) -> None:
    """What was last heard stays, called old; the page finds the broker again by itself."""
    page = opened()
    page.until_text("No alarm calls.")
    broker.stop()
    try:
        page.until_text("The broker cannot be reached.")
        assert "was 24.0 °C" in " ".join(page.text().split())
    finally:
        broker.start()
    page.until_text("No alarm calls.")
    house.status(title="Heard again")
    page.until_text("Heard again")


def test_a_wrong_password_is_asked_for_again(opened: Callable[..., Page], broker: Shipped) -> None:
    """With the reason, at the keyboard, and with nothing of the house on the page."""
    page = opened(sign_in=False)
    page.run("document.getElementById('password').focus()")
    page.type(broker.viewer + "x")
    page.press("Enter", 13)
    page.until_text("The broker refuses this name or this password.")
    assert page.run("document.activeElement.id") == "password"
    assert page.run("getComputedStyle(document.getElementById('main')).display") == "none"


@pytest.mark.usefixtures("house")
def test_signing_out_forgets_the_password(opened: Callable[..., Page], broker: Shipped) -> None:
    """Until then a phone stays signed in; afterwards nothing in the browser's memory holds the password."""
    page = opened()
    page.until_text("No alarm calls.")
    kept = "JSON.stringify([localStorage, sessionStorage])"
    assert broker.viewer in page.run(kept)
    page.run("document.getElementById('leave').focus()")
    page.press("Enter", 13)
    page.until("!document.getElementById('login').hidden")
    assert broker.viewer not in page.run(kept)
    assert page.run("document.getElementById('password').value") == ""
    assert "24.0 °C" not in page.text()


@pytest.mark.usefixtures("house")
def test_the_page_reads_over_tls(opened: Callable[..., Page], broker: Shipped) -> None:
    """With the broker's TLS address in the form; the words below it say which of the two is encrypted."""
    page = opened(sign_in=False)
    assert "Not encrypted" in page.text()
    page.run("document.getElementById('url').select()")
    page.type(f"wss://localhost:{broker.phones}/")
    assert "Not encrypted" not in page.text()
    page.run("document.getElementById('password').focus()")
    page.type(broker.viewer)
    page.press("Enter", 13)
    page.until_text("No alarm calls.")


HOSTILE = '<img src=x onerror="window.hacked=1"><script>window.hacked=1</script>'


def test_words_of_a_message_stay_words(opened: Callable[..., Page], house: House) -> None:
    """Whatever stands in titles, names, reasons and alarms: it is shown as text and runs nowhere."""
    loop = {"name": HOSTILE, "fan_on": True, "reason": HOSTILE, "demand": HOSTILE, "lockouts": [HOSTILE]}
    house.status(
        title=HOSTILE,
        advice=HOSTILE,
        loops=[loop],
        alarms=[{key: HOSTILE if isinstance(value, str) else value for key, value in FROST.items()}],
        not_monitored=[HOSTILE],
    )
    house.say("year", {"months": [{"month": HOSTILE}]})
    house.say("curves", {"temperatures": [{"what": "soil", "loop": HOSTILE, "mean_c": [1, 2]}], "motors": []})
    for site in ("fellside", ""):
        page = opened(site)
        page.until_text(HOSTILE)
        assert page.run("window.hacked") is None
        assert page.run("document.querySelectorAll('img, main script, iframe').length") == 0


NONSENSE = [
    b"no JSON",
    b"[]",
    b"7",
    b'{"loops": 7, "sumps": {"a": 1}, "alarms": "x", "house": [], "today": 3, "by_hand": null}',
    b'{"loops": [{}], "sumps": [{}], "alarms": [{}], "house": {"bench": 1}, "valid_for_s": "x", "at": 5}',
    b'{"temperatures": [{"what": "bench", "mean_c": "x"}, {"mean_c": [null]}], "motors": [{}]}',
    b'{"months": [{}], "temperatures": 1, "motors": [], "step_s": 0}',
    b"\xff\xfe",
]


def test_messages_that_make_no_sense_cost_nothing_else(opened: Callable[..., Page], house: House) -> None:
    """After each of them a sound status is shown, and no script has failed."""
    page = opened()
    page.until_text("No alarm calls.")
    for number, nonsense in enumerate(NONSENSE):
        for ending in ("status", "curves", "year", "tonight", "online", "alarm/frost"):
            house.say(ending, nonsense)
        house.online()
        house.status(title=f"Sound again {number}")
        page.until_text(f"Sound again {number}")
    assert page.events("Runtime.exceptionThrown") == []


def test_all_houses_on_one_page(opened: Callable[..., Page], house: House, broker: Shipped) -> None:
    """One line each, what needs somebody first; a key press leads to the house and back."""
    other = House(broker, "lowfield")
    try:
        other.online(online=False, why="stopped")
        other.status(title="Lowfield nursery", ago_s=7200)
        page = opened("", DESK)
        page.until_text("Lowfield nursery")
        rows = page.run(
            "[...document.querySelectorAll('tbody tr')].map(r => r.innerText.split('\\t').map(t => t.trim()))"
        )
        assert [row[:5] for row in rows] == [
            ["Lowfield nursery", "stopped", "was none", "was 24.0 °C", "was 1 of 2 on"],
            ["Fellside school garden", "online", "none", "24.0 °C", "1 of 2 on"],
        ]
        assert "2 houses. 1 needs somebody to look." in " ".join(page.text().split())
        house.status(alarms=[FROST])
        page.until_text("Act now: frost")
        assert page.run("document.querySelector('tbody th a').innerText") == "Fellside school garden"
        page.run("document.querySelector('tbody th a').focus()")
        page.press("Enter", 13)
        page.until_text("Light a flued or electric heater")
        page.run("document.getElementById('overview').focus()")
        page.press("Enter", 13)
        page.until_text("Lowfield nursery")
        page.resize(PHONE)
        assert page.run(NOT_WIDER)
    finally:
        other.nothing()
        other.close()


@pytest.mark.usefixtures("house")
def test_everything_is_reached_with_the_keyboard(opened: Callable[..., Page], house: House) -> None:
    """Tab visits each control once and shows where it is; an opened list stays open while messages come."""
    page = opened()
    page.until_text("things no signal shows")
    page.run("window.before = true")
    page.call("Page.reload")  # signed in as before, and nothing has the focus
    page.until(
        "!window.before && document.body && document.body.innerText.includes('things no signal shows')"
    )
    visited = []
    for _ in range(4):
        page.press("Tab", 9)
        visited.append(page.run("document.activeElement.id"))
        assert page.run("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    assert visited == ["overview", "leave", "by-hand-name", "unseen-name"]
    page.press("Enter", 13)
    page.until_text("Fire away from the probes")
    house.status(title="Another title")
    page.until_text("Another title")
    assert "Fire away from the probes" in page.text()


@pytest.mark.usefixtures("house")
def test_a_screen_reader_finds_its_way(opened: Callable[..., Page]) -> None:
    """One main part, one first heading, no skipped level, a name for each control; the state is announced."""
    page = opened()
    page.until_text("The year's heat")
    page.call("Accessibility.enable")
    nodes = page.call("Accessibility.getFullAXTree")["nodes"]
    roles: dict[str, list[Any]] = {}
    for node in nodes:
        if not node.get("ignored"):
            roles.setdefault(node["role"]["value"], []).append(node)
    assert len(roles["main"]) == 1
    assert page.run("document.querySelector('[role=status]').innerText").startswith("No alarm calls.")
    levels = page.run(
        "[...document.querySelectorAll('h1,h2,h3')].filter(h => h.offsetParent).map(h => +h.tagName[1])"
    )
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    controls = [node for role in ("link", "button", "DisclosureTriangle") for node in roles.get(role, [])]
    assert len(controls) == 4
    assert all(node["name"]["value"] for node in controls)


@pytest.mark.usefixtures("house")
def test_the_page_can_be_put_on_a_home_screen(opened: Callable[..., Page]) -> None:
    """The manifest stands in the page itself, with its picture, and names this house as its start."""
    page = opened()
    manifest = page.call("Page.getAppManifest")
    assert manifest["errors"] == []
    read = json.loads(manifest["data"])
    assert read["display"] == "standalone"
    assert read["start_url"] == page.run("location.href")
    assert read["icons"][0]["src"].startswith("data:image/")


def test_what_the_real_link_sends_is_what_the_page_shows(
    opened: Callable[..., Page], broker: Shipped
) -> None:
    """The controller's own publisher and connection, its password file and the broker's access rules."""
    password = broker.etc / "house" / "mqtt-password-fellside"
    mqtt = {
        "host": broker.host,
        "port": broker.port,
        "user": "hypocaust-fellside",
        "password_file": str(password),
    }
    settings = ticks.settings(mqtt)
    assert isinstance(settings.mqtt, Mqtt)
    sender = Sender(settings.mqtt, "fellside", SystemClock())
    publisher = Publisher(sender, ticks.PROGRAM, lambda: 0)
    now = SystemClock().wall_utc()
    sender.start()
    try:
        until(sender.connected, "the controller is connected")
        for at_s in (0.0, 900.0):
            seen = ticks.snapshot(at_s)._replace(wall_utc=now)
            publisher.observe(ticks.tick(settings=settings, now_mono_s=at_s, snapshot=seen))
        page = opened()
        page.until_text("No alarm calls.")
        page.until_text("last 31.2 °C")
    finally:
        sender.stop()
    page.until_text("The controller was stopped at")
    made = House(broker)
    made.nothing()
    made.close()


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("site", ["fellside", ""])
@pytest.mark.skipif(
    "AXE" not in os.environ, reason="set AXE to the path of axe.min.js (npm package axe-core)"
)
def test_axe_finds_nothing(opened: Callable[..., Page], house: House, site: str, dark: bool) -> None:
    """No violation of its rules, colours and contrast included, with alarms, in light and dark."""
    house.status(
        alarms=[FROST, PROBE, FROST | {"subject": "a", "seen": True, "priority": "today"}],
        advice="open doors",
    )
    page = opened(site, dark=dark)
    page.until_text("Act now: frost")
    page.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.call("Page.setBypassCSP", enabled=True)
    page.run(Path(os.environ["AXE"]).read_text(encoding="utf-8") + ";1")
    found = page.run(
        "axe.run().then(r => r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html).join(' | ')))"
    )
    assert found == []
