"""Decides whether the samples of one probe can be trusted, and for how long."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Final

from controller.readings.reading import Good, Missing, RawTemperature, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.readings.reading import RawSample, Reading
    from controller.settings.schema import Judging

# What a place can have. The lower end of air is colder than any winter the crop survives; the upper end
# of house air is the end of the DS18B20's range (data sheet), because a fire must stay visible. [practice]
RANGE_C: Final = {
    "ceiling": (-45.0, 125.0),
    "bench": (-45.0, 125.0),
    "outlet": (-45.0, 125.0),
    "outdoor": (-50.0, 60.0),
    "soil": (-20.0, 50.0),
    "root-zone": (-20.0, 50.0),
}
SOIL_PLACES: Final = frozenset({"soil", "root-zone"})
# Probes that are compared when one of them seems frozen: they see the same kind of weather.
KINDS: Final = {
    "ceiling": "air",
    "bench": "air",
    "outdoor": "air",
    "outlet": "outlet",
    "soil": "soil",
    "root-zone": "soil",
}
# What counts as a move of the others, well above their last digit. [practice]
AIR_MOVE_K: Final = 1.0
SOIL_MOVE_K: Final = 0.25
POWER_ON_C: Final = 85.0  # what the chip holds before its first conversion (DS18B20 data sheet)
BAD_IN_A_ROW: Final = 3  # failed samples in a row before a person hears of it; one alone needs no action
NEVER_READ_FOR_S: Final = 300.0  # then a probe that was never read is a fault
NOISE: Final = frozenset({Why.NOISY, Why.SILENT})  # what a bad joint or a motor cable beside the bus causes
NOISE_OVER_S: Final = 3600.0  # such answers are counted over about an hour
NOISE_STEP_S: Final = 120.0  # one sample stands for no more than this, so that a single one is never a fault
NOISE_SHARE_ON: Final = 0.05  # above this share of them the cable needs a look. [practice]
NOISE_SHARE_OFF: Final = 0.02
NOISE_FORGOTTEN: Final = 0.001


@dataclass(frozen=True, slots=True)
class Limits:
    """What one place's samples are judged by.

    Attributes:
        low_c: lowest temperature the place can have.
        high_c: highest.
        jump_k: a larger step from one sample to the next needs a second sample that confirms it.
        hold_s: how long the last good value stays usable.
        stuck_s: how long the same last digit is believed while others move.
        move_k: what counts as a move of the others.
    """

    low_c: float
    high_c: float
    jump_k: float
    hold_s: float
    stuck_s: float
    move_k: float


def limits_for(place: str, judging: Judging) -> Limits:
    """The limits of a place.

    An outlet holds and jumps like air, but with its fan at rest the still air in the tube mouth takes the
    temperature of the ground, so it may stay on one digit for as long as soil may.
    """
    low_c, high_c = RANGE_C[place]
    if place in SOIL_PLACES:
        return Limits(
            low_c, high_c, judging.soil_jump_k, judging.soil_hold_s, judging.soil_stuck_s, SOIL_MOVE_K
        )
    stuck_s = judging.soil_stuck_s if place == "outlet" else judging.air_stuck_s
    return Limits(low_c, high_c, judging.air_jump_k, judging.air_hold_s, stuck_s, AIR_MOVE_K)


class ProbeJudge:
    """One probe's samples over time.

    Attributes:
        reading: the judged reading; Good keeps the time of its measurement and ends with its hold time.
        trouble: what a person should hear about this probe, or None. It may be set while ``reading`` still
            holds from before; one failed sample alone does not set it.
        last_why: why the newest sample was refused, or None if it was accepted.
        settled_until_s: until then ``judge`` changes nothing unless there is a new sample.

    Args:
        limits: what its samples are judged by.
        offset_k: added to what it reads.
    """

    __slots__ = (
        "_anchor_c",
        "_bad_in_a_row",
        "_bad_since_s",
        "_doubted_above",
        "_good",
        "_moved_at_s",
        "_moved_before_s",
        "_noise_share",
        "_noisy",
        "_same_c",
        "_same_since_s",
        "_sample_at_s",
        "kin",
        "last_why",
        "limits",
        "offset_k",
        "reading",
        "settled_until_s",
        "trouble",
    )

    def __init__(self, limits: Limits, offset_k: float) -> None:
        self.limits = limits
        self.offset_k = offset_k
        self.kin: Sequence[ProbeJudge] = ()
        self.reading: Reading | None = None
        self.trouble: Why | None = None
        self.last_why: Why | None = None
        self.settled_until_s = -inf
        self._good: Good[float] | None = None
        self._sample_at_s = -inf
        self._doubted_above: bool | None = None
        self._same_c: float | None = None
        self._same_since_s = -inf
        self._anchor_c: float | None = None
        self._moved_at_s = -inf
        self._moved_before_s = -inf
        self._bad_in_a_row = 0
        self._bad_since_s = -inf
        self._noise_share = 0.0
        self._noisy = False

    def judge(self, sample: RawSample | None, now_mono_s: float) -> Reading:
        """Take the newest sample into account and say what can be trusted now.

        Args:
            sample: the newest sample; one that is no newer than the last is the same sample, not a second
                one.
            now_mono_s: now.
        """
        if sample is not None and sample.at_mono_s > self._sample_at_s:
            self._take(sample)
        good = self._good
        hold_s = self.limits.hold_s
        if good is not None and now_mono_s - good.at_mono_s <= hold_s:
            self.settled_until_s = good.at_mono_s + hold_s
            self.reading = good
            if self._bad_in_a_row or self._noisy or self.trouble is not None:
                self._set_trouble()
            return good
        return self._missing(now_mono_s)

    def _take(self, sample: RawSample) -> None:
        """Accept or refuse a new sample."""
        at_s = sample.at_mono_s
        elapsed_s = at_s - self._sample_at_s
        self._sample_at_s = at_s
        if isinstance(sample, RawTemperature):
            why = self._flaw(sample)
            if why is None:
                self._good = Good(sample.value_c + self.offset_k, at_s)
                self._bad_in_a_row = 0
                self.last_why = None
                if self._noise_share:
                    self._count_noise(0.0, elapsed_s)
                return
        else:
            why = sample.why
        if not self._bad_in_a_row:
            self._bad_since_s = at_s
        self._bad_in_a_row += 1
        self.last_why = why
        if why is Why.STUCK:
            self._good = None  # what it holds is what it is stuck at
        if why is not Why.JUMP:
            self._doubted_above = None
        self._count_noise(1.0 if why in NOISE else 0.0, elapsed_s)

    def _flaw(self, sample: RawTemperature) -> Why | None:
        """What is wrong with a temperature, or None; keeps track of movement on the way."""
        value_c, at_s, limits = sample.value_c, sample.at_mono_s, self.limits
        corrected_c = value_c + self.offset_k
        if not limits.low_c <= corrected_c <= limits.high_c:  # also refuses NaN
            return Why.OUT_OF_RANGE
        if value_c == 0.0 and sample.scratchpad is not None and not any(sample.scratchpad):
            return Why.ALL_ZERO
        good = self._good
        if good is not None and at_s - good.at_mono_s > limits.hold_s:
            good = None
        if good is None:
            if value_c == POWER_ON_C:
                return Why.POWER_ON
        else:
            step_k = corrected_c - good.value
            if step_k > limits.jump_k or step_k < -limits.jump_k:
                why = self._doubt(value_c, above=step_k > 0.0)
                if why is not None:
                    return why
        self._doubted_above = None
        if value_c == self._same_c:
            too_long = at_s - self._same_since_s > limits.stuck_s
            return Why.STUCK if too_long and self._others_moved(self._same_since_s) else None
        self._note_move(value_c, at_s)
        return None

    def _doubt(self, value_c: float, *, above: bool) -> Why | None:
        """A step too large for one sample: believed once a second sample is off to the same side.

        The second need not equal the first, or a fire, where each sample is far above the last, would
        never be believed. Exactly 85 °C confirms nothing: a chip without the error mark shows it after each
        loss of supply, as often as it is asked.
        """
        if value_c == POWER_ON_C:
            return Why.POWER_ON
        confirmed = self._doubted_above is above
        self._doubted_above = above
        return None if confirmed else Why.JUMP

    def _note_move(self, value_c: float, at_mono_s: float) -> None:
        """The last digit changed: remember when, and whether it adds up to a move."""
        self._same_c, self._same_since_s = value_c, at_mono_s
        anchor_c, move_k = self._anchor_c, self.limits.move_k
        if anchor_c is None:
            self._anchor_c = value_c
        elif not -move_k < value_c - anchor_c < move_k:
            self._anchor_c = value_c
            self._moved_before_s = self._moved_at_s
            self._moved_at_s = at_mono_s

    def _others_moved(self, since_s: float) -> bool:
        """Whether another probe of the kind moved while this one has shown the same last digit.

        The other must have moved twice since, because its first move may be the end of an older one.
        """
        return any(other._moved_before_s > since_s for other in self.kin)  # noqa: SLF001 - of its own kind

    def _count_noise(self, damaged: float, elapsed_s: float) -> None:
        """Follow the share of damaged or absent answers over about an hour."""
        kept = max(1.0 - elapsed_s / NOISE_OVER_S, 0.0)
        share = self._noise_share * kept + damaged * min(elapsed_s, NOISE_STEP_S) / NOISE_OVER_S
        self._noisy = share > (NOISE_SHARE_OFF if self._noisy else NOISE_SHARE_ON)
        self._noise_share = share if share > NOISE_FORGOTTEN else 0.0

    def _missing(self, now_mono_s: float) -> Reading:
        """Say why the reading is missing, since when, and whether a person should hear of it."""
        old = self.reading
        if self.last_why is not None:
            why, since_s = self.last_why, self._bad_since_s
        elif self._good is not None:
            why, since_s = Why.STALE, self._good.at_mono_s
        else:
            why = Why.NEVER_READ
            since_s = old.since_mono_s if isinstance(old, Missing) else now_mono_s
        if not (isinstance(old, Missing) and old.why is why and old.since_mono_s == since_s):
            old = Missing(why, since_s)
            self.reading = old
        self.settled_until_s = inf
        self.trouble = why
        if why is Why.NEVER_READ and now_mono_s - since_s <= NEVER_READ_FOR_S:
            self.settled_until_s = since_s + NEVER_READ_FOR_S
            self.trouble = None
        return old

    def _set_trouble(self) -> None:
        """While the reading still holds: say what a person should look at before it ends."""
        if self._bad_in_a_row >= BAD_IN_A_ROW:
            self.trouble = self.last_why
        elif self._noisy:
            self.trouble = Why.NOISY
        elif not self._bad_in_a_row:
            self.trouble = None
