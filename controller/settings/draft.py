"""A settings file as far as it could be read: what the checks between settings work on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import ValidationError

from controller.settings.schema import (
    Board,
    Fans,
    Fire,
    House,
    Judging,
    Loop,
    Mqtt,
    Opening,
    Probe,
    Pump,
    Service,
    Setpoints,
    Settings,
    Signal,
    Sump,
)
from controller.settings.schema.quantities import KINDS, number_text, plain_key, read_quantity, shown
from controller.settings.schema.section import Section, quantity_kind

if TYPE_CHECKING:
    from collections.abc import Mapping

AnySection = TypeVar("AnySection", bound=Section)


@dataclass(frozen=True, slots=True)
class Draft:
    """The tables that are good by themselves (None, or absent, where not) and the document behind them.

    Attributes:
        document: what the file says, as the TOML reader gives it; words of messages are taken from it.
        loops: the good ones; likewise openings, sumps and probes.
        loop_names: all of them, good or not; likewise sump_names.
        probes_whole: whether every probe is good.
    """

    document: Mapping[str, Any]
    setpoints: Setpoints | None
    fans: Fans | None
    pump: Pump | None
    fire: Fire | None
    judging: Judging | None
    board: Board | None
    house: House | None
    service: Service | None
    mqtt: Mqtt | None
    openings: Mapping[str, Opening]
    signal: Signal | None
    loops: Mapping[str, Loop]
    sumps: Mapping[str, Sump]
    probes: Mapping[str, Probe]
    loop_names: frozenset[str]
    sump_names: frozenset[str]
    probes_whole: bool

    def is_written(self, *path: str) -> bool:
        """Whether a key stands in the file."""
        inner: Any = self.document
        for part in path:
            if not isinstance(inner, dict) or part not in inner:
                return False
            inner = inner[part]
        return True

    def table(self, name: str) -> Section | None:
        """A table by its name in the file."""
        table: Section | None = getattr(self, name)
        return table

    def as_written(self, section: Section, table: str, attribute: str) -> str:
        """A value as the person wrote it, or as the default is written."""
        key = plain_key(attribute)
        if self.is_written(table, key):
            return shown(self.document[table][key]).strip('"')
        field = type(section).model_fields[attribute]
        kind = quantity_kind(field)
        value = getattr(section, attribute)
        if kind is None:
            return shown(value)
        if read_quantity(kind, field.default).si == value:
            return f"{field.default} (the default)"
        unit = KINDS[kind].units[0]
        return f"{number_text(unit.from_si(value))} {unit.name}"


def draft_of_document(document: Mapping[str, Any]) -> Draft:
    """Keep every table that is good by itself."""
    loops = _good(Loop, document.get("loops"))
    probes = _good(Probe, document.get("probes"))
    return Draft(
        document=document,
        setpoints=_read(Setpoints, document.get("setpoints", {})),
        fans=_read(Fans, document.get("fans", {})),
        pump=_read(Pump, document.get("pump", {})),
        fire=_read(Fire, document.get("fire", {})),
        judging=_read(Judging, document.get("judging", {})),
        board=_read(Board, document.get("board", {})),
        house=_read(House, document.get("house", {})),
        service=_read(Service, document.get("service", {})),
        mqtt=_read(Mqtt, document["mqtt"]) if "mqtt" in document else None,
        openings=_good(Opening, document.get("openings")),
        signal=_read(Signal, document["signal"]) if "signal" in document else None,
        loops=loops,
        sumps=_good(Sump, document.get("sumps")),
        probes=probes,
        loop_names=_names(document.get("loops")),
        sump_names=_names(document.get("sumps")),
        probes_whole=len(probes) == len(_names(document.get("probes"))),
    )


def draft_of_settings(settings: Settings, document: Mapping[str, Any]) -> Draft:
    """The same view of settings that are good; ``document`` lends the words of its tables."""
    return Draft(
        document=document,
        setpoints=settings.setpoints,
        fans=settings.fans,
        pump=settings.pump,
        fire=settings.fire,
        judging=settings.judging,
        board=settings.board,
        house=settings.house,
        service=settings.service,
        mqtt=settings.mqtt,
        openings=settings.openings,
        signal=settings.signal,
        loops=settings.loops,
        sumps=settings.sumps,
        probes=settings.probes,
        loop_names=frozenset(settings.loops),
        sump_names=frozenset(settings.sumps),
        probes_whole=True,
    )


def _read(model: type[AnySection], written: object) -> AnySection | None:
    """A table if it is good by itself, else None."""
    try:
        return model.model_validate(written)
    except ValidationError:
        return None


def _good(model: type[AnySection], written: object) -> dict[str, AnySection]:
    """Those of the named tables that are good by themselves."""
    tables = written if isinstance(written, dict) else {}
    read = {name: _read(model, table) for name, table in tables.items()}
    return {name: table for name, table in read.items() if table is not None}


def _names(written: object) -> frozenset[str]:
    """The names of all of them, good or not."""
    return frozenset(written) if isinstance(written, dict) else frozenset()
