"""How the whole suite searches for counterexamples."""

from __future__ import annotations

from hypothesis import settings

# The same examples in every run, so that a change and not chance decides whether the suite passes. To search
# anew: ``python -m pytest -m campaign --hypothesis-profile search``.
settings.register_profile("search")
settings.register_profile("repeatable", derandomize=True)
settings.load_profile("repeatable")
