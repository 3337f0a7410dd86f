"""The page on fault scripts: ``python -m controller.simulator.plant.faults_page > config/FAULTS.md``."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from controller.simulator.plant.fault_kinds import SPECS, FaultKind, Spec

if TYPE_CHECKING:
    from collections.abc import Iterator

INTRODUCTION = """\
# Fault scripts

`hypocaust rehearse FILE --faults SCRIPT` breaks things on purpose while the real controller runs the
simulated house. A script is a TOML file with one `[[fault]]` table for each thing that breaks:

"""

EXAMPLE = """\
[[fault]]
at = "2 d 6 h"              # when, counted from the start of the rehearsal
for = "12 h"                # how long; left out: to the end
kind = "pump-clogged"
subject = "main"            # the probe, loop or sump of the settings, if the kind has one
by = "75 %"                 # how much, if the kind has a size

[[fault]]
at = "3 d"
kind = "probe-swapped"
subject = "north-soil"
with = "middle-outlet"      # the other one, if the kind takes two

[[fault]]
at = "90 min"
kind = "bus-hung"
"""

KINDS = """
A mistake in a script is named with its line, and nothing is rehearsed. Several faults may be present at
a time, but each kind only once on one subject.

| Kind | Subject | More | What happens |
|---|---|---|---|
"""

LAST = """
The house has no part or signal for these, so they are not simulated: contact pairs of a change-over float, a
fan that turns backwards, loss of mains, a hot control box. To see a fire signature, give a probe in the air a
`probe-drift` of `"14400 K"` a day, which is 10 K a minute.
"""


def page() -> str:
    """The whole page."""
    rows = "".join(f"{row}\n" for row in _rows())
    return f"{INTRODUCTION}```toml\n{EXAMPLE}```\n{KINDS}{rows}{LAST}"


def _rows() -> Iterator[str]:
    """One row for each kind."""
    for kind in FaultKind:
        spec = SPECS[kind]
        subject = " or ".join(table.removesuffix("s") for table in spec.subjects) or "no subject"
        yield f"| `{kind.value}` | {subject} | {_more(spec)} | {spec.effect} |"


def _more(spec: Spec) -> str:
    """What else a kind needs."""
    if spec.by is not None:
        return f'`by = "{spec.by.example}"` {spec.by_what}'
    return "`with` the other one" if spec.partner else ""


if __name__ == "__main__":
    sys.stdout.write(page())
