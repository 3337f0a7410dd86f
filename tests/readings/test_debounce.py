"""The float level by time: ripples, cut wires, bouncing."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.readings.debounce import CHATTER_EDGES, Debounce
from controller.readings.reading import Good, Level, LevelReading, Missing, RawLevel, Why

WET_AFTER_S = 0.2
DRY_AFTER_S = 5.0
WET, DRY = Level.WET, Level.DRY


class Float:
    """One float that is looked at whenever the test says."""

    def __init__(self) -> None:
        self.debounce = Debounce(WET_AFTER_S, DRY_AFTER_S)

    def looks(self, *looks: tuple[float, Level | None], now_s: float | None = None) -> LevelReading:
        """Take these looks in; now is the time of the last."""
        raw = [RawLevel(level, at_s) for at_s, level in looks]
        return self.debounce.judge(raw, looks[-1][0] if now_s is None else now_s)

    def dry_at(self, at_s: float) -> Float:
        """The same float, settled dry at this time."""
        self.looks((at_s - DRY_AFTER_S, DRY))
        assert self.looks((at_s, DRY)) == Good(DRY, at_s)
        return self


def test_first_level_has_to_settle() -> None:
    """Until a level has lasted, nothing is known; then it counts, and the next tick is asked for in time."""
    one = Float()
    assert one.debounce.settles_at_mono_s is None
    assert one.debounce.chatters is False
    assert one.looks((100.0, DRY)) == Missing(Why.NEVER_READ, 100.0)
    assert one.debounce.settles_at_mono_s == 105.0
    assert one.looks((105.0, DRY)) == Good(DRY, 105.0)
    assert one.debounce.settles_at_mono_s is None


def test_wet_counts_after_a_moment() -> None:
    """A rise counts when it has lasted as long as the setting says, and asks to be looked at then."""
    one = Float().dry_at(100.0)
    assert one.looks((110.0, WET)) == Good(DRY, 110.0)
    due_s = one.debounce.settles_at_mono_s
    assert due_s == 110.2
    assert one.looks((due_s, WET)) == Good(WET, due_s)


def test_spark_on_the_wire_is_ignored() -> None:
    """A wet edge that is gone at once changes nothing and leaves nothing pending."""
    one = Float().dry_at(100.0)
    assert one.looks((110.0, WET), (110.1, DRY), (110.1, DRY)) == Good(DRY, 110.1)
    assert one.debounce.settles_at_mono_s is None


def test_short_wet_between_two_looks_counts() -> None:
    """Water that came and went between two looks is known from its edges; dry then has to last anew."""
    one = Float().dry_at(100.0)
    assert one.looks((103.0, WET), (104.0, DRY), (110.0, DRY), now_s=108.0) == Good(WET, 110.0)
    two = Float().dry_at(100.0)
    assert two.looks((103.0, WET), (104.0, DRY), (108.9, DRY)) == Good(WET, 108.9)
    assert two.looks((109.0, DRY)) == Good(DRY, 109.0)


def test_dry_that_is_over_does_not_count() -> None:
    """A dry spell that a new rise has ended does not turn the level dry in retrospect."""
    one = Float()
    one.looks((100.0, WET))
    assert one.looks((101.0, WET), (102.0, DRY), (110.0, WET)) == Good(WET, 110.0)


def test_ripples_do_not_end_the_wet() -> None:
    """Dry has to last unbroken; each wet edge begins the time anew."""
    one = Float().dry_at(100.0)
    one.looks((101.0, WET))
    one.looks((102.0, WET))
    one.looks((110.0, DRY))
    one.looks((114.0, WET))
    one.looks((114.1, DRY))
    assert one.looks((119.0, DRY)) == Good(WET, 119.0)
    assert one.looks((119.2, DRY)) == Good(DRY, 119.2)


def test_unreadable_input_counts_at_once_and_has_to_settle_anew() -> None:
    """A failed look takes the level away at once; it is back after it has lasted, and not before."""
    one = Float().dry_at(100.0)
    assert one.looks((110.0, None)) == Missing(Why.UNREADABLE, 110.0)
    assert one.looks((120.0, None)) == Missing(Why.UNREADABLE, 110.0)
    assert one.debounce.settles_at_mono_s is None
    assert one.looks((130.0, DRY)) == Missing(Why.UNREADABLE, 110.0)
    assert one.looks((135.0, DRY)) == Good(DRY, 135.0)


def test_float_that_nobody_looks_at_goes_stale() -> None:
    """Without a look for more than three seconds the level is not trusted, and has to settle anew."""
    one = Float().dry_at(100.0)
    assert one.debounce.judge([], 103.0) == Good(DRY, 100.0)
    assert one.debounce.judge([], 103.1) == Missing(Why.STALE, 100.0)
    assert one.looks((110.0, DRY)) == Missing(Why.STALE, 100.0)
    assert one.looks((115.0, DRY)) == Good(DRY, 115.0)


def test_float_that_was_never_looked_at_goes_stale() -> None:
    """A float without a single look is first unread, then stale."""
    one = Debounce(WET_AFTER_S, DRY_AFTER_S)
    assert one.judge([], 100.0) == Missing(Why.NEVER_READ, 100.0)
    assert one.judge([], 110.0) == Missing(Why.STALE, 100.0)


def test_look_with_an_earlier_time_is_taken_as_now() -> None:
    """An edge that was noted while the level was being read changes nothing twice."""
    one = Float().dry_at(100.0)
    one.looks((101.0, WET))
    assert one.looks((100.9, WET), (101.3, WET)) == Good(WET, 101.3)


def test_late_edge_counts_from_the_last_look() -> None:
    """An edge older than the last look, which still read the other level, counts from that look."""
    one = Float().dry_at(100.0)
    assert one.looks((99.9, WET), (100.15, WET)) == Good(DRY, 100.15)
    assert one.debounce.settles_at_mono_s == 100.2


def test_second_loss_has_its_own_time() -> None:
    """Each time the float cannot be read, the loss counts from its own beginning."""
    one = Float().dry_at(100.0)
    one.looks((110.0, None))
    one.looks((111.0, DRY))
    one.looks((116.0, DRY))
    assert one.looks((200.0, None)) == Missing(Why.UNREADABLE, 200.0)


def test_bouncing_that_thins_out_leaves_no_old_dry_behind() -> None:
    """When a bouncing float calms down, the dry from before counts no longer; dry has to last anew."""
    one = Debounce(WET_AFTER_S, 30.0)
    one.judge([RawLevel(DRY, 70.0)], 70.0)
    assert one.judge([RawLevel(DRY, 100.0)], 100.0) == Good(DRY, 100.0)
    for rise_s in (110.0, 130.0, 150.0, 168.0):
        one.judge([RawLevel(WET, rise_s), RawLevel(DRY, rise_s + 0.1)], rise_s + 0.1)
    assert one.chatters
    assert one.judge([RawLevel(DRY, 171.0)], 171.0) == Good(WET, 171.0)
    assert not one.chatters
    assert one.judge([RawLevel(DRY, 198.2)], 198.2) == Good(DRY, 198.2)


def bounce(one: Float, first_s: float, edges: int, every_s: float) -> LevelReading:
    """Alternate wet and dry, starting wet, and look after the last edge."""
    looks = [(first_s + n * every_s, DRY if n % 2 else WET) for n in range(edges)]
    return one.looks(*looks)


def test_bouncing_counts_as_wet_and_is_named() -> None:
    """More than six edges a minute, each too short to count, are water that slops about."""
    one = Float().dry_at(100.0)
    assert bounce(one, 101.0, CHATTER_EDGES, 0.1) == Good(DRY, 101.5)
    assert not one.debounce.chatters
    two = Float().dry_at(100.0)
    assert bounce(two, 101.0, CHATTER_EDGES + 2, 0.1) == Good(WET, 101.7)
    assert two.debounce.chatters


def test_bouncing_counts_as_wet_for_the_whole_minute() -> None:
    """A float that has bounced reads wet for the minute, although it has been dry for long enough since."""
    one = Float().dry_at(100.0)
    bounce(one, 101.0, CHATTER_EDGES + 2, 0.1)
    assert one.looks((107.0, DRY)) == Good(WET, 107.0)
    assert one.looks((161.0, DRY)) == Good(WET, 161.0)
    assert one.debounce.chatters


def test_bouncing_float_that_cannot_be_read_is_not_wet_but_missing() -> None:
    """A float that bounces and then cannot be read at all is unreadable, whatever it read before."""
    one = Float().dry_at(100.0)
    bounce(one, 101.0, CHATTER_EDGES + 2, 0.1)
    assert one.looks((102.0, None)) == Missing(Why.UNREADABLE, 102.0)


def test_earlier_cycles_do_not_hide_a_bouncing_float() -> None:
    """Only the edges of the last minute count, however many cycles of the pump went before."""
    one = Float().dry_at(100.0)
    for hour in range(1, 6):
        one.looks((3600.0 * hour, WET), (3600.0 * hour + 30.0, DRY))
    bounce(one, 21600.0, CHATTER_EDGES + 1, 10.0)
    assert one.debounce.chatters, "seven edges in just a minute"


def test_bouncing_is_over_a_minute_later_and_dry_has_to_last() -> None:
    """After a quiet minute the float counts again, dry only if it has been dry for long enough."""
    one = Float().dry_at(100.0)
    bounce(one, 101.0, CHATTER_EDGES + 2, 8.0)
    assert one.debounce.chatters
    assert one.looks((160.0, DRY)) == Good(WET, 160.0)
    one.looks((168.0, WET))
    one.looks((168.1, DRY))
    assert one.looks((172.0, DRY)) == Good(WET, 172.0)
    quiet = one.looks((300.0, DRY))
    assert quiet == Good(DRY, 300.0)
    assert not one.debounce.chatters


def test_contact_that_closes_with_a_bounce_is_no_chatter() -> None:
    """Dozens of edges within a few hundredths of a second are one closing contact."""
    one = Float().dry_at(100.0)
    looks = [(101.0 + n * 0.001, DRY if n % 2 else WET) for n in range(31)]
    one.looks(*looks)
    assert one.looks((101.3, WET)) == Good(WET, 101.3)
    assert not one.debounce.chatters


LOOKS = st.lists(
    st.tuples(st.floats(0.001, 20.0), st.sampled_from([WET, DRY, DRY, DRY, None])), min_size=1, max_size=60
)


@given(LOOKS, st.integers(1, 4))
def test_dry_is_never_reported_sooner_than_it_has_lasted(
    steps: list[tuple[float, Level | None]], looks_per_tick: int
) -> None:
    """Whenever a float turns dry, every look of the whole dry time before it was dry."""
    one = Debounce(WET_AFTER_S, DRY_AFTER_S)
    now_s = 50.0
    seen: list[RawLevel] = []
    pending: list[RawLevel] = []
    before: LevelReading | None = None
    for position, (wait_s, level) in enumerate(steps):
        now_s += wait_s
        pending.append(RawLevel(level, now_s))
        if position % looks_per_tick:
            continue
        seen += pending
        reading = one.judge(pending, now_s)
        pending = []
        is_dry = isinstance(reading, Good) and reading.value is DRY
        was_dry = isinstance(before, Good) and before.value is DRY
        if is_dry and not was_dry:
            last_other_s = max((look.at_mono_s for look in seen if look.level is not DRY), default=0.0)
            first_dry_s = min(look.at_mono_s for look in seen if look.at_mono_s > last_other_s)
            assert now_s - first_dry_s >= DRY_AFTER_S - 1e-9
        if level is None:
            assert isinstance(reading, Missing)
        before = reading


@given(LOOKS)
def test_a_wet_that_lasts_is_always_reported(steps: list[tuple[float, Level | None]]) -> None:
    """Whatever happened before, a float that stays wet reads wet once the wet time is over."""
    one = Debounce(WET_AFTER_S, DRY_AFTER_S)
    now_s = 50.0
    for wait_s, level in steps:
        now_s += wait_s
        one.judge([RawLevel(level, now_s)], now_s)
    one.judge([RawLevel(WET, now_s)], now_s)
    now_s += WET_AFTER_S + 1e-9
    assert one.judge([RawLevel(WET, now_s)], now_s) == Good(WET, now_s)
