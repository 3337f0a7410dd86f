"""Fixtures of the telemetry tests."""

from tests.broker import brokers

__all__ = ["brokers"]
