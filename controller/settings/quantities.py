"""Quantities as people write them: a number with its unit, turned into SI."""

from __future__ import annotations

UNIT_SUFFIXES = ("_m3_s", "_k_s", "_m3", "_c", "_k", "_s", "_w", "_m")


def plain_key(attribute: str) -> str:
    """The key in the settings file for an attribute name: ``heat_below_c`` -> ``heat_below``."""
    for suffix in UNIT_SUFFIXES:
        if attribute.endswith(suffix):
            return attribute.removesuffix(suffix)
    return attribute
