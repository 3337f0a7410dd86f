"""The settings in force: re-read when the file changes or on SIGHUP, never replaced by bad ones.

They begin with the file, or with its last good copy where the file was refused at the start. A person must
then mend the file soon, because after every further power cut the controller starts with old settings again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import structlog

from controller.faults import FaultCode, Finding
from controller.settings.watch import Accepted

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.clock import Clock
    from controller.settings.begin import Start
    from controller.settings.schema import Settings
    from controller.settings.watch import Reload, SettingsWatch

# How often the file is looked at; an edit is in force after two looks. [practice]
LOOK_EVERY_S = 2.0


class LiveSettings:
    """Gives the settings in force, once a tick."""

    def __init__(
        self, start: Start, watch: SettingsWatch, clock: Clock, on_reload: Callable[[Reload], None]
    ) -> None:
        """Begin with good settings.

        Args:
            start: the settings the program was started with, and where they are from.
            watch: looks at the file.
            clock: for the time between looks.
            on_reload: called after each reload that has something to say, good or bad.
        """
        self._active = start.settings
        self._path, self._copy, self._text = start.path, start.copy, start.text
        self._waits = False
        self._watch = watch
        self._clock = clock
        self._on_reload = on_reload
        self._log = structlog.get_logger("settings")
        self._looked_s = clock.monotonic_s()
        self._asked = False
        self._rejected = start.rejected

    def reload_now(self) -> None:
        """Ask for a reload at the next tick, changed or not; safe to call from a signal handler."""
        self._asked = True

    def __call__(self) -> Settings:
        """The settings in force."""
        now_s = self._clock.monotonic_s()
        if self._asked:
            self._asked = False
            self._take(self._watch.force())
        elif now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = now_s
            reload = self._watch.poll()
            if reload is not None:
                self._take(reload)
        return self._active

    def findings(self) -> tuple[Finding, ...]:
        """A finding while the file on disk is not good."""
        if self._rejected is None:
            return ()
        first = self._rejected.text.splitlines()[0]
        if self._copy is None:
            return (Finding(FaultCode.SETTINGS_REJECTED, "", first),)
        return (Finding(FaultCode.SETTINGS_REJECTED, "", f"{first}; in force: {self.in_force()}", level=1),)

    def proven_text(self) -> str | None:
        """What the file holds if all of it is in force, else None."""
        return self._text

    def in_force(self) -> str:
        """Which settings are in force, as people read it."""
        if self._copy is not None:
            whose = f"last good copy {self._copy} of {self._path}"
            return f"the {whose}" if self._rejected else f"{self._path}, wired as in the {whose}"
        if self._rejected is not None:
            return f"{self._path} as it was before its last change"
        return f"{self._path} (its new wiring waits for a restart)" if self._waits else str(self._path)

    def _take(self, reload: Reload) -> None:
        if isinstance(reload, Accepted):
            self._active = reload.settings
            self._rejected = None
            self._waits = bool(reload.needs_restart)
            self._text = None if self._waits else reload.text
            self._copy = self._copy if self._waits else None
            self._log.info("settings_reloaded", changed=reload.changed, needs_restart=reload.needs_restart)
        else:
            self._rejected = reload
            self._text = None
            self._log.error("settings_rejected", problems=reload.text.splitlines())
        self._on_reload(reload)
