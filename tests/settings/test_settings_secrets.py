"""What may be a password never gets into a message, wherever in a settings file it was typed."""

from __future__ import annotations

import pytest
from structlog.testing import capture_logs

from controller.clock import SystemClock
from controller.service.live_settings import LiveSettings
from controller.settings.begin import begin_with_file
from controller.settings.load import SettingsError, parse
from controller.settings.schema import Mqtt
from controller.settings.toml_file import SECRET_WORDS
from controller.settings.watch import SettingsWatch
from tests.settings.edit import HOUSE_TEXT

CANARY = "Tr0ub4dor&3"
DIGITS = "48151623"
GOOD = HOUSE_TEXT.partition("[mqtt]")[0]
TEXT_KEYS = [name for name, field in Mqtt.model_fields.items() if field.annotation is str]
KEYS = [*{*TEXT_KEYS, "version", "port", "tls", "publish_every"}, *SECRET_WORDS, "Password", "broker_token"]
# {0} is a key, {1} a text that may be the password, {2} one of digits.
SHAPES = {
    "text": '{0} = "{1}"',
    "with a unit": '{0} = "5 {1}"',
    "on two lines": '{0} = """\n{1}\n{1}"""',
    "control character": '{0} = "{1}\\u0007"',
    "list": '{0} = ["{1}"]',
    "table": '{0} = {{ value = "{1}" }}',
    "table in a list": '{0} = [{{ {0} = ["{1}"] }}]',
    "dotted": '{0}.value = "{1}"',
    "two levels down": '{0} = {{ {0} = {{ {0} = "{1}" }} }}',
    "without quotes": "{0} = {1}",
    "with half a quote": '{0} = "{1}',
    "with curly quotes": "{0} = “{1}”",
    "like a quantity": "{0} = {2} min",
    "like another quantity": "{0} = {2} {2} C",
    "twice": '{0} = "{1}"\n{0} = "{1}"',
    "in place of a file": '{0} = "file:{1}"',
}
TABLES = {
    "in its table": "[mqtt]\n{}\n",
    "in a list of tables": "[[mqtt]]\n{}\n",
    "in a table below": "[mqtt.account]\n{}\n",
    "in a misspelt table": "[mqt]\n{}\n",
    "in another table": "[history]\n{}\n",
    "in no table": "{}\n",
}


def messages(text: str) -> str:
    """Everything that is said of a text, empty if it is good."""
    try:
        parse(text, "house.toml")
    except SettingsError as trouble:
        return str(trouble)
    return ""


@pytest.mark.parametrize("key", sorted(KEYS))
def test_no_value_that_may_be_a_secret_is_ever_repeated(key):
    """Every key of the link, and every key that sounds secret, with every kind of slip in every place."""
    for place, table in TABLES.items():
        for shape, pattern in SHAPES.items():
            entry = table.format(pattern.format(key, CANARY, DIGITS))
            text = f"{entry}{GOOD}" if place == "in no table" else f"{GOOD}{entry}"
            said = messages(text)
            assert CANARY not in said, (place, shape, said)
            if any(word in key.casefold() for word in SECRET_WORDS):
                assert DIGITS not in said, (place, shape, said)


@pytest.mark.parametrize("value", [f'"{CANARY}"', f'["{CANARY}"]', f'[{{ user = "{CANARY}" }}]'])
def test_a_value_in_place_of_the_whole_table_is_not_repeated(value):
    """[mqtt] written as one value or as a list: a table was expected, and that is all that is said."""
    said = messages(f"mqtt = {value}\n{GOOD}")
    assert said.count("expected a table [mqtt]") == 1
    assert CANARY not in said


@pytest.mark.parametrize("value", [DIGITS, f"{DIGITS}.5", f"[{DIGITS}]"])
def test_a_password_of_digits_is_not_repeated(value):
    """Not every password stands in quotes."""
    said = messages(f"{GOOD}[mqtt]\npassword_file = {value}\n")
    assert (
        "mqtt.password_file: what is written there (not quoted, as it may be a secret) is the wrong" in said
    )
    assert DIGITS not in said


def test_the_alarm_of_a_rejected_file_does_not_publish_the_password(tmp_path):
    """The finding that goes to phones, history and status, and the log beside it, keep the secret."""
    path = tmp_path / "house.toml"
    path.write_text(HOUSE_TEXT, encoding="utf-8")
    good = parse(HOUSE_TEXT)

    watch = SettingsWatch(path, good)
    live = LiveSettings(begin_with_file(path), watch, SystemClock(), lambda _reload: None)
    path.write_text(f'{GOOD}[mqtt]\nuser = "house"\npassword_file = "{CANARY}"\n', encoding="utf-8")
    live.reload_now()
    with capture_logs() as logged:
        live()
    (finding,) = live.findings()
    assert "mqtt.password_file: what is written there" in finding.detail
    assert CANARY not in finding.detail + str(logged)
