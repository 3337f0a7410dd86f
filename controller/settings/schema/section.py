"""What all tables of the settings file share: declared settings, their limits, texts of a fixed shape."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    field_validator,
)
from pydantic_core import core_schema

from controller.settings.schema.quantities import (
    DIGITS_SHOWN,
    Quantity,
    plain_key,
    read_quantity,
    refusal,
    shown,
)

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic.fields import FieldInfo


def setting(
    default: Any,
    meaning: str,
    *,
    smaller: str = "",
    larger: str = "",
    low: Any = None,
    high: Any = None,
    example: str = "",
) -> Any:
    """Declare a setting with everything its documentation needs.

    Args:
        default: the default as a person writes it (``"6 °C"``), or ``...`` if it must be given.
        meaning: what it is, one sentence; of a setting without a default it begins with "The".
        smaller: what a smaller value does.
        larger: what a larger value does.
        low: smallest allowed value as a person writes it.
        high: largest allowed value as a person writes it.
        example: a value as it stands in the file, for the message on a setting that is missing.
    """
    extra = {"smaller": smaller, "larger": larger, "low": low, "high": high, "example": example}
    return Field(default, description=meaning, json_schema_extra=extra, validate_default=True)


def quantity_kind(field: FieldInfo) -> str | None:
    """The kind of quantity a setting is, or None where it is a plain value."""
    return next((mark.kind for mark in field.metadata if isinstance(mark, Quantity)), None)


def detail(field: FieldInfo, name: str) -> Any:
    """One entry of what ``setting`` declared, by the name it was given there."""
    extra = field.json_schema_extra
    return extra.get(name) if isinstance(extra, dict) else None


class Section(BaseModel):
    """A table of the settings file: unknown keys are errors, limits hold, values never change."""

    model_config = ConfigDict(
        strict=True,
        extra="forbid",
        frozen=True,
        alias_generator=plain_key,
        allow_inf_nan=False,
        hide_input_in_errors=True,
    )

    @field_validator("*", mode="wrap")
    @classmethod
    def _within_limits(cls, written: Any, read: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:
        """Hold a setting to its declared limits, and say them in the unit the person wrote."""
        value = read(written)
        field = cls.model_fields[info.field_name or ""]
        low, high = detail(field, "low"), detail(field, "high")
        if value is None or (low is None and high is None):
            return value
        kind = quantity_kind(field)
        trouble = (
            _plain_trouble(value, low, high) if kind is None else _quantity_trouble(kind, written, low, high)
        )
        if trouble:
            raise refusal(trouble)
        return value


def _plain_trouble(value: float, low: float, high: float) -> str:
    """What is wrong with a plain number, empty if nothing."""
    if low <= value <= high:
        return ""
    return f"{shown(value)} is out of range; expected {low} to {high}"


def _quantity_trouble(kind: str, written: object, low: str, high: str) -> str:
    """Compare in the written unit, rounded as shown, so that a limit named by a message is accepted."""
    value = read_quantity(kind, written)
    low_si, high_si = read_quantity(kind, low).si, read_quantity(kind, high).si
    in_unit = [_rounded(value.unit.from_si(si)) for si in (low_si, value.si, high_si)]
    if in_unit == sorted(in_unit):
        return ""
    return f"{shown(written)} is out of range; expected {value.text_of(low_si)} to {value.text_of(high_si)}"


def _rounded(value: float) -> float:
    """A number as messages show it."""
    return float(f"{value:.{DIGITS_SHOWN}g}")


@dataclass(frozen=True, slots=True)
class Shape:
    """Type annotation for a text of a fixed shape, with the words that explain it."""

    pattern: str
    words: str

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Check the shape after pydantic has made sure that it is text."""
        return core_schema.no_info_after_validator_function(self._check, handler(source))

    def _check(self, value: str) -> str:
        """Compare a text with the shape."""
        if re.fullmatch(self.pattern, value) is None:
            raise refusal(f"{shown(value)} {self.words}")
        return value
