"""``hypocaust seen``, ``house`` and ``done``: what a person says to the controller on the machine itself."""

from __future__ import annotations

import sys
import textwrap
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from controller.cli.asking import NOT_ASKED, answered
from controller.cli.local_time import moment_text
from controller.clock import SystemClock
from controller.diagnosis.attendance import EMPTY_FOR_S
from controller.faults import ABOUT_THE_CROP, DAY_S, MAY_BE_SEEN, FaultCode
from controller.readings.said import Act
from controller.service.mailbox import PATIENCE_S
from controller.service.operator_requests import UNTIL_DAWN, Answer, may_be_seen
from controller.service.operator_requests import say as say_to
from controller.telemetry.hand_checks import HAND_CHECKS

if TYPE_CHECKING:
    from pathlib import Path

NOTED, NOT_NOTED = 0, 1
WIDTH = 80
CROP = ", ".join(sorted(code.value for code in ABOUT_THE_CROP))
SILENCE = (
    f"Not noted: the controller did not answer within {PATIENCE_S:.0f} s; the request was taken back. "
    "Find out why with: systemctl status hypocaust; journalctl -u hypocaust"
)
NO_CLOCK = "Not noted: the controller does not know the time of day yet. Check it with: timedatectl"


def seen(path: Path, code: str, until_dawn: bool) -> int:
    """Say that somebody has seen an alarm, so that it calls nobody for now.

    Args:
        path: the settings file of the running controller.
        code: which alarm, as `hypocaust status` names it; blanks count as dashes.
        until_dawn: whether it is to call again in the morning whatever happens.

    Returns:
        0 if it was noted, 1 if not, 2 if the controller could not be asked, 3 if none runs.
    """
    code = code.strip().lower().replace(" ", "-")
    if not may_be_seen(code):
        return _refused_code(code)
    words = [Act.SEEN.value, code, *([UNTIL_DAWN] if until_dawn else [])]
    return _said(
        path,
        words,
        {
            Answer.NOTED: f"Noted: {code} was seen. It stays in the status and calls nobody until it ends or "
            "becomes worse{ends}.",
            Answer.NO_SUCH_ALARM: f"Not noted: there is no alarm {code} now. See: hypocaust status",
            Answer.NO_CLOCK: f"{NO_CLOCK}. Without --until it works all the same.",
        },
    )


def house(path: Path, state: str) -> int:
    """Say whether there is a crop in the house; alarms of an empty one call nobody.

    Args:
        path: the settings file of the running controller.
        state: "empty" or "planted".

    Returns:
        0 if it was noted, 1 if not, 2 if the controller could not be asked, 3 if none runs.
    """
    if state == "planted":
        text = f"Noted: the house is planted. Alarms of the crop ({CROP}) call again."
        return _said(path, [Act.PLANTED.value], {Answer.NOTED: text})
    text = (
        f"Noted: the house is empty. Alarms of the crop ({CROP}) call nobody for "
        f"{EMPTY_FOR_S / DAY_S:.0f} days{{ends}}; say it again for longer. Fire, water and motors call as "
        "ever. When something grows there, say: hypocaust house planted"
    )
    return _said(path, [Act.EMPTY.value], {Answer.NOTED: text})


def done(path: Path, check: str) -> int:
    """Say that a check by hand was done.

    Args:
        path: the settings file of the running controller.
        check: which one.

    Returns:
        0 if it was noted, 1 if not, 2 if the controller could not be asked, 3 if none runs.
    """
    if check not in HAND_CHECKS:
        lines = [f'There is no check "{check}". These are to be done by hand:']
        lines += [
            f"  {name}: {each.what}, every {each.every_days} days" for name, each in HAND_CHECKS.items()
        ]
        print("\n".join(lines), file=sys.stderr)
        return NOT_ASKED
    text = f"Noted: {check} done. Due again in {HAND_CHECKS[check].every_days} days."
    return _said(path, [Act.DONE.value, check], {Answer.NOTED: text})


def said_low(path: Path, low_c: float) -> int:
    """Give the controller a forecast of the night's low outdoors.

    Args:
        path: the settings file of the running controller.
        low_c: the forecast low.

    Returns:
        0 if it was noted, 1 if not, 2 if the controller could not be asked, 3 if none runs.
    """
    text = (
        "Noted for the coming night, or the one in progress. The line below follows within a minute; look "
        "again with: hypocaust tonight"
    )
    return _said(path, [Act.LOW.value, f"{low_c:.2f}"], {Answer.NOTED: text})


def _refused_code(code: str) -> int:
    never = sorted(each.value for each in FaultCode if each not in MAY_BE_SEEN)
    if code in never:
        lead = f"{code} cannot be muted, because it can hurt people or flood the tubes; nor can "
        names = [name for name in never if name != code]
    else:
        lead = f'There is no alarm "{code}". These can be said to be seen: '
        names = sorted(each.value for each in MAY_BE_SEEN)
    print(textwrap.fill(f"{lead}{', '.join(names)}.", WIDTH, break_on_hyphens=False), file=sys.stderr)
    return NOT_ASKED


def _said(path: Path, words: list[str], texts: dict[Answer, str]) -> int:
    clock = SystemClock()
    found, code = answered(path, lambda directory: say_to(directory, words, clock), "nothing was noted")
    if found is None:
        return code
    answer, ends_utc_s = found
    others = {Answer.SILENCE: SILENCE, Answer.NO_CLOCK: NO_CLOCK}
    refused = "Not noted: the running controller does not know this; it may be of another release."
    text = texts.get(answer) or others.get(answer) or refused
    print(textwrap.fill(text.replace("{ends}", _ends(ends_utc_s)), WIDTH, break_on_hyphens=False))
    return NOTED if answer is Answer.NOTED else NOT_NOTED


def _ends(utc_s: float | None) -> str:
    if utc_s is None:
        return ""
    return f", at most until {moment_text(datetime.fromtimestamp(utc_s, UTC), None)}"
