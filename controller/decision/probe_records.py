"""What is remembered of comparing probes; ``comparisons.py`` says how they are compared."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.settings.schema import Settings


class ProbeGroups(NamedTuple):
    """Names of the probes that can be compared with each other.

    Attributes:
        ceilings: under the roof.
        benches: among the crop.
        soils: at tube depth, one for each loop that has any.
        roots: in the root zone, one for each loop that has any.
        outlets: loop and probe.
    """

    ceilings: tuple[str, ...]
    benches: tuple[str, ...]
    soils: tuple[str, ...]
    roots: tuple[str, ...]
    outlets: tuple[tuple[str, str], ...]

    @property
    def air(self) -> tuple[str, ...]:
        """All in the air of the house."""
        return (*self.ceilings, *self.benches)

    @property
    def names(self) -> frozenset[str]:
        """Every probe of them."""
        return frozenset((*self.air, *self.soils, *self.roots, *(name for _, name in self.outlets)))


def probe_groups(settings: Settings) -> ProbeGroups:
    """The comparable probes of a house."""

    def firsts(place: str) -> tuple[tuple[str, str], ...]:
        named = [(loop, settings.probe_names(place, loop)) for loop in settings.loops]
        return tuple((loop, names[0]) for loop, names in named if names)

    return ProbeGroups(
        tuple(settings.probe_names("ceiling")),
        tuple(settings.probe_names("bench")),
        tuple(name for _, name in firsts("soil")),
        tuple(name for _, name in firsts("root-zone")),
        firsts("outlet"),
    )


class Record(NamedTuple):
    """What days of comparing have shown of one probe, or of one loop's share of heat.

    Attributes:
        usual: how far it usually is from the others, in K (a share for loops).
        lately: how far it has been lately.
        days: days it was compared on, as far as they count.
        off_days: days in a row on which it was too far from what is usual.
        sunny_days: days, less cloudy ones, on which it was warmer than its place can be.
    """

    usual: float = 0.0
    lately: float = 0.0
    days: int = 0
    off_days: int = 0
    sunny_days: float = 0.0


Looks = dict[str, tuple[int, float]]  # how many, and the sum of what they showed


class Today(NamedTuple):
    """What is kept of a day that is not over.

    Attributes:
        began_s: its first look.
        coldest_c: lowest ceiling temperature so far.
        then_c: every probe's reading at that moment.
        excess_then_k: by house air probe, how much warmer than its peers it was at that moment.
        excess_k: by house air probe, the most that it was warmer than its peers.
        resting: by loop, looks at its resting outlet and the sum of its distances in K.
        banking: by loop, looks at it while it banked and the sum of the shares of the difference that its
            tubes took out of the air.
    """

    began_s: float
    coldest_c: float
    then_c: Mapping[str, float]
    excess_then_k: Mapping[str, float]
    excess_k: Mapping[str, float]
    resting: Looks
    banking: Looks


class Comparisons(NamedTuple):
    """All comparisons.

    Attributes:
        looked_s: when the probes were last looked at.
        today: the day so far, None before the first look.
        records: by probe.
        shares: by loop.
        suspicious: whether any of them may be worth telling (asked at every tick, found once a day).
    """

    looked_s: float
    today: Today | None
    records: Mapping[str, Record]
    shares: Mapping[str, Record]
    suspicious: bool = False


NO_RECORD = Record()


def nothing_compared(now_s: float) -> Comparisons:
    """Nothing seen yet."""
    return Comparisons(now_s, None, {}, {})
