"""Messages that wait for the broker."""

from __future__ import annotations

import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.telemetry.outbox import Letter, Outbox


def state(topic: str, text: str = "") -> Letter:
    """A state letter."""
    return Letter(topic, text.encode(), qos=0, retain=False)


def alarm(topic: str, text: str = "") -> Letter:
    """An alarm letter."""
    return Letter(topic, text.encode(), qos=1, retain=True, in_order=True)


def emptied(outbox: Outbox) -> list[Letter]:
    """Everything in it, in the order it would be sent."""
    letters = []
    while (letter := outbox.take()) is not None:
        letters.append(letter)
    return letters


def test_newest_state_of_a_topic_wins():
    """Of three states of one topic only the last is sent; other topics are untouched."""
    outbox = Outbox(10)
    for letter in (state("a", "1"), state("b", "1"), state("a", "2"), state("a", "3")):
        outbox.put(letter)
    assert emptied(outbox) == [state("b", "1"), state("a", "3")]


def test_alarms_keep_every_step_in_order_and_go_first():
    """Raised, cleared, raised again: all three are sent, before any state."""
    outbox = Outbox(10)
    outbox.put(state("status"))
    steps = [alarm("frost", "raised"), alarm("frost", ""), alarm("frost", "again")]
    for step in steps:
        outbox.put(step)
    assert emptied(outbox) == [*steps, state("status")]


def test_full_outbox_drops_the_oldest_state_before_any_alarm():
    """States come back by themselves, alarms do not: a full outbox gives up states first."""
    outbox = Outbox(3)
    for letter in (alarm("x", "1"), state("a"), state("b"), alarm("x", "2")):
        outbox.put(letter)
    assert emptied(outbox) == [alarm("x", "1"), alarm("x", "2"), state("b")]
    assert outbox.dropped == 1


def test_outbox_full_of_alarms_keeps_room_for_the_present():
    """After hours of alarms the newest states still find a place, at the cost of the oldest alarms."""
    outbox = Outbox(8)
    for step in range(20):
        outbox.put(alarm("x", f"{step:02}"))
    for topic in ("old", "status", "loop"):
        outbox.put(state(topic))
    kept = [alarm("x", f"{step:02}") for step in range(14, 20)]
    assert emptied(outbox) == [*kept, state("status"), state("loop")]


def test_outbox_full_of_alarms_drops_the_oldest():
    """With nothing but alarms the oldest goes, so that the present is told."""
    outbox = Outbox(2)
    for step in "123":
        outbox.put(alarm("x", step))
    assert emptied(outbox) == [alarm("x", "2"), alarm("x", "3")]


def test_unconfirmed_letters_come_back_in_front_unless_there_is_news():
    """What was never confirmed is sent again in its order, but an old state never replaces a newer one."""
    outbox = Outbox(10)
    outbox.put(alarm("x", "3"))
    outbox.put(state("a", "new"))
    outbox.give_back([alarm("x", "1"), state("a", "old"), alarm("x", "2"), state("b", "1")])
    assert emptied(outbox) == [
        alarm("x", "1"),
        alarm("x", "2"),
        alarm("x", "3"),
        state("b", "1"),
        state("a", "new"),
    ]


def test_an_outbox_that_can_hold_nothing_is_refused():
    """A limit of zero is a mistake, said at once."""
    with pytest.raises(ValueError, match="at least one"):
        Outbox(0)


@given(
    limit=st.integers(1, 8),
    steps=st.lists(st.tuples(st.sampled_from("abc"), st.booleans(), st.integers(0, 3)), max_size=60),
)
def test_never_over_its_limit_and_never_two_states_of_one_topic(limit, steps):
    """Whatever is put in, taken and given back: bounded, alarms in order, one state a topic."""
    outbox = Outbox(limit)
    for number, (topic, in_order, taken) in enumerate(steps):
        outbox.put(alarm(topic, f"{number:03}") if in_order else state(topic, f"{number:03}"))
        outbox.give_back([letter for letter in (outbox.take() for _ in range(taken)) if letter is not None])
        assert len(outbox) <= limit
    letters = emptied(outbox)
    alarms = [letter.payload for letter in letters if letter.in_order]
    states = [letter.topic for letter in letters if not letter.in_order]
    assert alarms == sorted(alarms)
    assert len(states) == len(set(states))


def test_many_threads_put_without_loss_below_the_limit():
    """Letters put from several threads at once all arrive."""
    outbox = Outbox(1000)
    threads = [
        threading.Thread(target=lambda who=who: [outbox.put(alarm(f"{who}/{n}")) for n in range(100)])
        for who in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({letter.topic for letter in emptied(outbox)}) == 400
