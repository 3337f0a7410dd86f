"""What the fitted signals cannot show, so that it is named instead of looking fine."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.settings.schema import Settings


def not_monitored(settings: Settings) -> tuple[str, ...]:
    """Everything that can go wrong unseen with the probes and floats of these settings, in words."""
    return (*_air(settings), *_loops(settings), *_sumps(settings))


def _air(settings: Settings) -> Iterator[str]:
    if not settings.probe_names("bench"):
        yield "air among the crop: no bench probe; the ceiling stands in for it"
    if not settings.probe_names("outdoor"):
        yield "outdoor air: no outdoor probe"


def _loops(settings: Settings) -> Iterator[str]:
    for loop in settings.loops:
        if not settings.probe_names("outlet", loop):
            yield f"loop {loop}: no outlet probe, so whether its fan moves heat or even turns"
        if not settings.probe_names("root-zone", loop):
            yield f"loop {loop}: no root-zone probe, so its root-zone limits"
    yield "fans that turn without a command (contactor stuck, switch on hand): no contactor signal"


def _sumps(settings: Settings) -> Iterator[str]:
    for name, sump in settings.sumps.items():
        if sump.float_kind == "closes-on-rise":
            yield f"sump {name}: a cut float wire reads dry, so rising water"
        yield f"sump {name}: a float that hangs dry; lift it by hand from time to time"
    yield "pumps that run without a command or draw too much: no contactor signal, no current measured"
