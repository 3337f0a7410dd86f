"""The sender against a real broker, and against one that never answers."""

from __future__ import annotations

import os
import random
import socket
import threading
from datetime import UTC, datetime

import pytest

from controller.clock import SystemClock
from controller.diagnosis.alarms import AlarmEvent
from controller.faults import FaultCode
from controller.settings.schema import Mqtt
from controller.telemetry.link import Link
from controller.telemetry.outbox import Letter
from controller.telemetry.publisher import Publisher
from controller.telemetry.sender import LONGEST_SILENCE_S, Sender
from tests.broker import LONGEST_WAIT_S, free_port, until
from tests.telemetry import ticks

ROOT = "hypocaust/fellside"


class HurriedClock:
    """Real time that a test can push ahead; pauses between attempts are over almost at once."""

    def __init__(self):
        self.ahead_s = 0.0
        self.pauses_s = []
        self._real = SystemClock()

    def monotonic_s(self):
        """Real seconds plus what the test added."""
        return self._real.monotonic_s() + self.ahead_s

    def wall_utc(self):
        """Always the same noon."""
        return datetime(2026, 3, 7, 12, tzinfo=UTC)

    def wait(self, wake, timeout_s):
        """A twentieth of a second stands for any pause."""
        self.pauses_s.append(timeout_s)
        return wake.wait(min(timeout_s, 0.05))


@pytest.fixture
def clock():
    """A clock that can be pushed ahead."""
    return HurriedClock()


@pytest.fixture
def links(monkeypatch):
    """Every connection a sender opens, so that a test can break one."""
    opened = []

    class Known(Link):
        def __init__(self, *args):
            super().__init__(*args)
            opened.append(self)

    monkeypatch.setattr("controller.telemetry.sender.Link", Known)
    return opened


def tear(link):
    """End a connection as a pulled cable does in the end: without a goodbye."""
    link._client.socket().shutdown(socket.SHUT_RDWR)


@pytest.fixture
def sender_to(clock):
    """Makes started senders and stops them after the test."""
    made = []

    def start(port, **mqtt):
        sender = Sender(Mqtt(host="127.0.0.1", port=port, **mqtt), "fellside", clock)
        made.append(sender)
        sender.start()
        return sender

    yield start
    for sender in made:
        assert sender.stop()


def state(name, text=b"{}"):
    """A state letter."""
    return Letter(f"{ROOT}/{name}", text, qos=1, retain=True)


def says(online, why):
    """Whether an `online` message says this."""
    return lambda heard: (
        heard.payload != b"" and (heard.json()["online"], heard.json()["why"]) == (online, why)
    )


def detail(sender):
    """The words of its finding, empty if it has none."""
    return "".join(finding.detail for finding in sender.findings())


@pytest.mark.broker
@pytest.mark.parametrize("version", ["3.1.1", "5"])
def test_newcomer_finds_everything_retained(brokers, sender_to, version):
    """Who subscribes later still gets online, status and active alarms at once, in both MQTT versions."""
    broker = brokers.open_to_all()
    sender = sender_to(broker.port, version=version)
    until(sender.connected, "the broker accepts the sender")
    frost = ticks.alarm(FaultCode.FROST, "", "bench 0.4 °C")
    decided = ticks.diagnosis(frost, events=(AlarmEvent(frost, raised=True),))
    early = broker.recorder()
    Publisher(sender, ticks.PROGRAM).observe(ticks.tick(diagnosis=decided))
    early.wait(f"{ROOT}/temperature/south-soil")
    late = broker.recorder()
    assert late.wait(f"{ROOT}/online", says(True, "running")).retain
    status = late.wait(f"{ROOT}/status")
    assert status.retain
    assert status.json()["alarms"][0]["code"] == "frost"
    assert late.wait(f"{ROOT}/alarm/frost").json()["subjects"][0]["detail"] == "bench 0.4 °C"
    assert late.wait(f"{ROOT}/tonight").retain
    assert late.topics() == {f"{ROOT}/{name}" for name in ("online", "status", "tonight", "alarm/frost")}
    assert (status.expires_s is not None) == (version == "5")
    assert early.wait(f"{ROOT}/temperature/south-soil").json()["temperature_c"] is None


@pytest.mark.broker
def test_cleared_alarm_leaves_nothing_retained(brokers, sender_to):
    """Raised, then cleared: the listener hears both, a newcomer hears of no alarm."""
    broker = brokers.open_to_all()
    listener = broker.recorder()
    sender = sender_to(broker.port)
    publisher = Publisher(sender, ticks.PROGRAM)
    frost = ticks.alarm(FaultCode.FROST, "", "bench 0.4 °C")
    for seq, (active, raised) in enumerate((((frost,), True), ((), False)), start=1):
        decided = ticks.diagnosis(*active, events=(AlarmEvent(frost, raised=raised),))
        publisher.observe(ticks.tick(seq, 1000.0 + seq, diagnosis=decided))
    listener.wait(f"{ROOT}/alarm/frost", lambda heard: b"0.4" in heard.payload)
    listener.wait(f"{ROOT}/alarm/frost", lambda heard: heard.payload == b"")
    listener.wait(f"{ROOT}/status", lambda heard: heard.json()["alarms"] == [])
    newcomer = broker.recorder()
    newcomer.wait(f"{ROOT}/status")
    assert newcomer.heard(f"{ROOT}/alarm/frost") == []


@pytest.mark.broker
def test_broken_connection_sends_the_will_and_comes_back(brokers, sender_to, links):
    """A socket that dies without goodbye: others hear of it at once, then that it is back."""
    broker = brokers.open_to_all()
    listener = broker.recorder()
    sender = sender_to(broker.port)
    listener.wait(f"{ROOT}/online", says(True, "running"))
    tear(links[-1])
    will = listener.wait(f"{ROOT}/online", says(False, "connection lost"))
    assert (will.qos, will.json()["at"]) == (1, None)
    until(lambda: sender.connections() == 2, "the sender connects again")
    until(lambda: len(listener.heard(f"{ROOT}/online")) >= 3, "the listener hears that it is back")
    assert listener.heard(f"{ROOT}/online")[-1].json()["online"]


@pytest.mark.broker
def test_newcomer_after_a_crash_learns_that_nobody_is_there(brokers, sender_to, clock, links):
    """The will stays with the broker: who subscribes long after the connection broke still hears of it."""
    broker = brokers.open_to_all()
    sender = sender_to(broker.port)
    until(sender.connected, "the broker accepts the sender")
    clock.wait = lambda wake, _timeout_s: wake.wait(LONGEST_WAIT_S)  # no second attempt within this test
    tear(links[-1])
    until(lambda: not sender.connected(), "the sender notices")
    late = broker.recorder()
    assert late.wait(f"{ROOT}/online", says(False, "connection lost")).retain


@pytest.mark.broker
def test_stop_says_goodbye(brokers, sender_to):
    """A clean stop leaves `online` false with the cause, and no will is sent."""
    broker = brokers.open_to_all()
    listener = broker.recorder()
    sender = sender_to(broker.port)
    listener.wait(f"{ROOT}/online", says(True, "running"))
    assert sender.stop()
    assert not sender.alive()
    listener.wait(f"{ROOT}/online", says(False, "stopped"))
    sender.put(state("status"))  # a letter that comes too late does no harm
    until(lambda: "disconnected" in broker.log(), "the broker saw the goodbye")
    assert [heard.json()["why"] for heard in listener.heard(f"{ROOT}/online")] == ["running", "stopped"]


@pytest.mark.broker
def test_status_is_back_after_a_broker_restart(brokers, sender_to, clock):
    """A broker without memory that was away: the finding says so, then the newest status is there again."""
    broker = brokers.open_to_all()
    sender = sender_to(broker.port)
    until(sender.connected, "the broker accepts the sender")
    assert sender.findings() == ()
    broker.stop()
    until(lambda: "refuses connections" in detail(sender), "the finding says what is wrong")
    assert sender.findings()[0].code is FaultCode.LINK
    for number in range(50):
        sender.put(state("status", b"%d" % number))
    assert sender.waiting() == 1
    broker.start()
    assert broker.recorder().wait(f"{ROOT}/status").payload == b"49"
    assert sender.findings() != (), "a connection that has only just come back may break again"
    clock.ahead_s += 61.0
    sender.put(state("status"))
    until(lambda: sender.findings() == (), "the finding is gone")


@pytest.mark.broker
def test_wrong_password_is_said_and_the_right_one_is_taken_without_a_restart(brokers, sender_to, tmp_path):
    """Refused: said in words, never quoted; once the file is right the sender gets in by itself."""
    broker = brokers.with_password("house", "right-one")
    file = tmp_path / "secret"
    file.write_text("wrong-one\n")
    file.chmod(0o600)
    sender = sender_to(broker.port, user="house", password_file=str(file))
    until(lambda: "does not accept the user name or password" in detail(sender), "the refusal is said")
    assert "wrong-one" not in detail(sender)
    file.write_text("right-one\n")
    until(sender.connected, "the right password is taken")


@pytest.mark.broker
@pytest.mark.parametrize("version", ["3.1.1", "5"])
def test_password_open_to_others_is_not_used(brokers, sender_to, tmp_path, version):
    """A password file that others can read is refused before anything goes over the network."""
    broker = brokers.with_password("house", "right-one")
    file = tmp_path / "secret"
    file.write_text("right-one\n")
    file.chmod(0o644)
    sender = sender_to(broker.port, version=version, user="house", password_file=str(file))
    until(lambda: "chmod 600" in detail(sender), "the finding says how to mend it")
    assert "hypocaust-fellside" not in broker.log()


@pytest.mark.broker
def test_topic_the_broker_does_not_allow_is_named(brokers, sender_to, tmp_path):
    """Access rules that leave a topic out (MQTT 5 says so): the finding names it; others still arrive."""
    broker = brokers.with_password("house", "right-one", f"topic readwrite {ROOT}/online", "topic read #")
    file = tmp_path / "secret"
    file.write_text("right-one")
    file.chmod(0o600)
    sender = sender_to(broker.port, user="house", password_file=str(file))
    broker.recorder("house", "right-one").wait(f"{ROOT}/online", says(True, "running"))
    sender.put(state("status"))
    until(lambda: f"{ROOT}/status" in detail(sender), "the finding names the topic")
    assert sender.connected()


@pytest.mark.broker
def test_two_houses_under_one_name_are_told_apart(brokers, sender_to):
    """Two controllers with one client identity throw each other out; the finding names the setting."""
    broker = brokers.open_to_all()
    first, second = sender_to(broker.port), sender_to(broker.port)
    until(lambda: "client_id" in detail(first) + detail(second), "the finding points at [mqtt] client_id")


@pytest.mark.broker
def test_pauses_grow_and_begin_short_after_a_good_connection(brokers, sender_to, clock, links):
    """Failed attempts are spaced out more and more; after a minute of good connection the next comes soon."""
    broker = brokers.open_to_all()
    broker.stop()
    sender = sender_to(broker.port)
    until(lambda: len(clock.pauses_s) >= 5, "five attempts")
    assert 8.0 <= clock.pauses_s[4] <= 16.0
    broker.start()
    until(sender.connected, "the broker accepts the sender")
    clock.ahead_s += 61.0
    so_far = len(clock.pauses_s)
    tear(links[-1])
    until(lambda: len(clock.pauses_s) > so_far, "the sender pauses")
    assert clock.pauses_s[so_far] <= 1.0


@pytest.mark.broker
@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "cannot be read"),
        ("no certificate", "holds no certificate"),
        ("#" * 1_000_001, "is not a file of certificates"),
        (os.mkfifo, "is not a file of certificates"),
    ],
)
def test_unusable_authority_file_is_named(brokers, sender_to, tmp_path, content, says):
    """[mqtt] ca_file that is missing or something else: nothing is sent, and the finding names the file."""
    broker = brokers.with_tls()
    file = tmp_path / "authority.pem"
    if callable(content):
        content(file)  # nobody writes into it, and nobody waits for that
    elif content is not None:
        file.write_text(content)
    sender = sender_to(broker.port, tls=True, ca_file=str(file))
    until(lambda: says in detail(sender), "the finding says what is wrong with the file")
    assert str(file) in detail(sender)


@pytest.mark.broker
def test_trusted_certificate_is_accepted(brokers, sender_to):
    """With the authority's certificate at hand the connection is encrypted and works."""
    broker = brokers.with_tls()
    sender = sender_to(broker.port, tls=True, ca_file=broker.ca_file)
    sender.put(state("status", b'"' + b"x" * 60_000 + b'"'))
    assert len(broker.recorder().wait(f"{ROOT}/status").payload) == 60_002
    assert sender.findings() == ()


@pytest.mark.broker
def test_untrusted_certificate_is_refused_and_said(brokers, sender_to):
    """A certificate nobody vouches for: no connection, and the finding says why."""
    broker = brokers.with_tls()
    sender = sender_to(broker.port, tls=True)
    until(lambda: "is not trusted" in detail(sender), "the finding says that it is not trusted")
    assert "ca_file" in detail(sender)
    assert sender.connections() == 0


@pytest.mark.broker
def test_certificate_for_another_name_is_refused_and_said(brokers, clock):
    """A certificate made out to somebody else, though by a trusted authority: no connection, and why."""
    broker = brokers.with_tls()
    mqtt = Mqtt(host="localhost", port=broker.port, tls=True, ca_file=broker.ca_file)
    sender = Sender(mqtt, "fellside", clock)
    sender.start()
    until(lambda: "made out to another name" in detail(sender), "the finding says so")
    assert sender.connections() == 0
    assert sender.stop()


@pytest.mark.broker
def test_certificate_from_the_future_points_at_the_clock(brokers, sender_to):
    """A certificate that is not valid yet: most likely the clock of the board is not set; that is said."""
    broker = brokers.with_tls(valid_from="20480101000000Z")
    sender = sender_to(broker.port, tls=True, ca_file=broker.ca_file)
    until(lambda: "not yet valid" in detail(sender), "the finding says that it is not yet valid")
    assert "clock" in detail(sender)


@pytest.mark.broker
def test_plain_connection_to_an_encrypted_port_is_said(brokers, sender_to):
    """[mqtt] tls forgotten: the broker hangs up, and the finding points at the setting."""
    broker = brokers.with_tls()
    sender = sender_to(broker.port)
    until(lambda: "tls" in detail(sender), "the finding points at [mqtt] tls")


@pytest.mark.broker
def test_encrypted_connection_to_a_plain_port_is_said(brokers, sender_to):
    """[mqtt] tls set for a plain port: no connection, and the finding points at the setting."""
    broker = brokers.open_to_all()
    sender = sender_to(broker.port, tls=True)
    until(lambda: detail(sender) != "", "there is a finding")
    assert sender.connections() == 0


@pytest.mark.broker
def test_nothing_is_ever_subscribed_to(brokers, sender_to, links):
    """Whatever happens, the broker's log shows publishing by the sender and never a subscription."""
    broker = brokers.open_to_all()
    listener = broker.recorder()
    sender = sender_to(broker.port)
    Publisher(sender, ticks.PROGRAM).observe(ticks.tick())
    listener.wait(f"{ROOT}/temperature/ridge")
    tear(links[-1])
    until(lambda: sender.connections() == 2, "the sender connects again")
    assert sender.stop()
    until(lambda: "Received DISCONNECT from hypocaust-fellside" in broker.log(), "the broker saw the goodbye")
    log = broker.log()
    assert "Received PUBLISH from hypocaust-fellside" in log
    assert "Received SUBSCRIBE from recorder-1" in log
    assert "Received SUBSCRIBE from hypocaust-fellside" not in log


@pytest.mark.broker
def test_frozen_broker_is_noticed_and_nothing_grows(brokers, sender_to, clock):
    """A broker that stops answering: the outbox stays within its limit, the fault is said, and it heals."""
    broker = brokers.open_to_all()
    listener = broker.recorder()
    sender = sender_to(broker.port, outbox_limit=20)
    until(sender.connected, "the broker accepts the sender")
    broker.pause()
    for number in range(2000):
        sender.put(Letter(f"{ROOT}/alarm/frost", b"x" * 2000, qos=1, retain=True, in_order=True, seq=number))
        sender.put(state(f"loop/{number}", b"x" * 2000))
    assert sender.waiting() <= 20
    clock.ahead_s += 31.0
    sender.put(state("status", b"1"))
    until(lambda: "silent for 30 s" in detail(sender), "the silence is said")
    assert sender.alive()
    assert sender.waiting() <= 20
    broker.resume()
    until(lambda: sender.connected() and sender.waiting() == 0, "everything is delivered in the end")
    listener.wait(f"{ROOT}/online", says(False, "connection lost"))


@pytest.mark.broker
def test_connection_given_up_is_no_goodbye(brokers, sender_to, clock):
    """A sender that gives a silent broker up does not say goodbye: others hear that it was lost."""
    broker = brokers.open_to_all()
    sender = sender_to(broker.port)
    until(sender.connected, "the broker accepts the sender")
    clock.wait = lambda wake, _timeout_s: wake.wait(LONGEST_WAIT_S)  # no second attempt within this test
    broker.pause()
    sender.put(state("status", b"1"))
    until(lambda: sender.waiting() == 0, "a message is on its way")
    clock.ahead_s += 31.0
    sender.put(state("status", b"2"))
    until(lambda: "silent for 30 s" in detail(sender), "the silence is said")
    broker.resume()
    broker.recorder().wait(f"{ROOT}/online", says(False, "connection lost"))


@pytest.mark.broker
def test_fast_values_to_a_frozen_broker_do_not_pile_up(brokers, sender_to, links):
    """Messages that need no confirmation: when the network takes no more only the newest waits."""
    broker = brokers.open_to_all()
    sender = sender_to(broker.port)
    until(sender.connected, "the broker accepts the sender")
    broker.pause()
    held_up = []

    def network_is_full():
        held_up.append(sender.waiting() == 1)
        sender.put(Letter(f"{ROOT}/loop/north", b"x" * 500_000, qos=0, retain=False))
        return held_up[-5:] == [True] * 5

    until(network_is_full, "the network takes no more")
    for _ in range(50):
        sender.put(Letter(f"{ROOT}/loop/north", b"x" * 500_000, qos=0, retain=False))
    assert sender.waiting() == 1
    assert len(links[-1]._client._out_packet) <= 2


@pytest.mark.broker
def test_alarm_that_was_never_confirmed_is_sent_again(brokers, sender_to, links):
    """The broker dies with an alarm on its way: the next broker gets it."""
    broker = brokers.open_to_all()
    sender = sender_to(broker.port)
    until(sender.connected, "the broker accepts the sender")
    broker.pause()
    sender.put(Letter(f"{ROOT}/alarm/frost", b"kept", qos=1, retain=True, in_order=True))
    until(
        lambda: [letter.payload for letter in links[-1].unconfirmed()] == [b"kept"], "the alarm is on its way"
    )
    broker.kill()
    broker.start()
    assert broker.recorder().wait(f"{ROOT}/alarm/frost").payload == b"kept"


def test_broker_that_is_not_there_costs_nothing(sender_to):
    """No broker at all: putting never fails, the outbox keeps to its limit, and the sender stays alive."""
    sender = sender_to(free_port(), outbox_limit=20)
    for number in range(500):
        sender.put(state(f"loop/{number}"))
    until(lambda: "refuses connections" in detail(sender), "the finding says what is wrong")
    assert sender.waiting() == 20
    assert "480 messages given up" in detail(sender)
    assert sender.alive()


GREETING = b"\x20\x03\x00\x00\x00"  # MQTT 5, section 3.2: accepted, no properties


def test_garbage_from_a_false_broker_is_survived(sender_to):
    """Bytes of any kind, before and after a greeting: the thread lives on and tries again."""
    dice = random.Random(7)  # noqa: S311 - repeatable
    with socket.create_server(("127.0.0.1", 0)) as false:
        false.settimeout(LONGEST_WAIT_S)
        sender = sender_to(false.getsockname()[1])
        for turn in range(30):
            connection, _ = false.accept()
            with connection:
                connection.recv(1000)
                connection.sendall((GREETING if turn % 2 else b"") + dice.randbytes(dice.randint(1, 300)))
        assert sender.alive()
        assert detail(sender) != ""


def test_silent_listener_does_not_hold_up_a_stop(sender_to, clock):
    """Something that accepts connections and never speaks: stop ends in time, and the silence is said."""
    with socket.create_server(("127.0.0.1", 0)) as deaf:
        sender = sender_to(deaf.getsockname()[1])

        def said_in_time():
            clock.ahead_s += 31.0
            sender.put(state("status"))
            return "silent" in detail(sender)

        until(said_in_time, "the silence is said")
        assert sender.stop()


def test_thread_that_hangs_is_told_but_does_not_count_as_dead(sender_to, clock, monkeypatch):
    """A look-up that hangs becomes a finding; it never looks dead, or the watchdog would restart control."""
    entered, release = threading.Event(), threading.Event()

    def hang(*_args, **_kwargs):
        entered.set()
        release.wait(LONGEST_WAIT_S)
        raise TimeoutError

    monkeypatch.setattr("controller.telemetry.link.Client.connect", hang)
    sender = sender_to(free_port())
    assert entered.wait(LONGEST_WAIT_S)
    clock.ahead_s += LONGEST_SILENCE_S
    assert sender.alive()
    assert "makes no progress" in detail(sender)
    release.set()
    until(lambda: "makes no progress" not in detail(sender), "it goes on")


def test_defect_in_the_library_does_not_end_the_thread(sender_to, monkeypatch):
    """An exception nobody expected becomes a finding; the thread goes on and tries again."""
    attempts = []

    def broken(*_args, **_kwargs):
        attempts.append(1)
        raise RuntimeError("defect")

    monkeypatch.setattr("controller.telemetry.link.Client.connect", broken)
    sender = sender_to(free_port())
    until(lambda: len(attempts) > 2, "it tries again and again")
    assert "RuntimeError: defect" in detail(sender)
    assert sender.alive()
