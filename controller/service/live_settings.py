"""The settings in force: re-read when the file changes or on SIGHUP, never replaced by bad ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

import structlog

from controller.faults import FaultCode, Finding
from controller.settings.watch import Accepted, Rejected

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.clock import Clock
    from controller.settings.schema import Settings
    from controller.settings.watch import Reload, SettingsWatch

# How often the file is looked at; an edit is in force after two looks. Common practice, no source.
LOOK_EVERY_S = 2.0


class LiveSettings:
    """Gives the settings in force, once a tick."""

    def __init__(
        self, active: Settings, watch: SettingsWatch, clock: Clock, told: Callable[[Reload], None]
    ) -> None:
        """Begin with good settings.

        Args:
            active: the settings the program was started with.
            watch: looks at the file.
            clock: for the time between looks.
            told: called after each reload that has something to say, good or bad.
        """
        self._active = active
        self._watch = watch
        self._clock = clock
        self._told = told
        self._log = structlog.get_logger("settings")
        self._looked_s = clock.monotonic_s()
        self._asked = False
        self._rejected: Rejected | None = None

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
        return (Finding(FaultCode.SETTINGS_REJECTED, "", self._rejected.text.splitlines()[0]),)

    def _take(self, reload: Reload) -> None:
        if isinstance(reload, Accepted):
            self._active = reload.settings
            self._rejected = None
            self._log.info("settings_reloaded", changed=reload.changed, needs_restart=reload.needs_restart)
        else:
            self._rejected = reload
            self._log.error("settings_rejected", problems=reload.text.splitlines())
        self._told(reload)
