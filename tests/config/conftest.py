"""Fixtures of the tests of what is shipped beside the program."""

from tests.shipped import shipped

__all__ = ["shipped"]
