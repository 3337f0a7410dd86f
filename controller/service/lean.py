"""Keeps out of the daemon's memory what its libraries import and it never uses."""

from __future__ import annotations

import os
import sys
from concurrent.futures import BrokenExecutor
from importlib import import_module
from importlib.util import find_spec
from inspect import iscoroutinefunction
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping


def _true(name: str) -> ModuleType:
    """The module itself, put where its stand-in was."""
    if isinstance(sys.modules.get(name), _Later):
        del sys.modules[name]
    return import_module(name)


def _plugins(**wanted: str) -> Any:
    """What other packages offer to a library: nothing, because the daemon hands every part over itself.

    Asked for all there is (numba does so, behind a simulated house), it gives all.
    """
    return () if wanted else _true("importlib.metadata").entry_points()


def _version(package: str) -> str:
    """A package's version, as its folder of metadata is named (PEP 376)."""
    for place in sys.path:
        for folder in Path(place).glob(f"{package.lower()}-*.dist-info"):
            return folder.name.removesuffix(".dist-info").split("-")[1]
    raise LookupError(package)


def _this_process() -> SimpleNamespace:
    """What a log record wants to know of its process wherever processes are imported."""
    return SimpleNamespace(name="MainProcess")


# What is never used, and the few names that a library takes from it while it is imported. The log library
# imports asyncio for its asynchronous half; the MQTT library urllib.request for proxies; the calendar library
# looks for plug-ins in every package's metadata, which takes the e-mail and zip libraries, and imports
# processes for an executor the daemon has no use for. Resident without them (measured: Python 3.11, x86-64):
# asyncio 1.3 MB, urllib.request 0.7, metadata 1.3, processes 0.6, the other three together 0.5.
NEVER_USED: Mapping[str, Mapping[str, object]] = {
    "asyncio": {"iscoroutinefunction": iscoroutinefunction},
    "urllib.request": {},
    "importlib.resources": {},
    "importlib.metadata": {"entry_points": _plugins, "version": _version},
    "subprocess": {},
    "uuid": {},
    "pickle": {"PicklingError": type("PicklingError", (Exception,), {})},
    "multiprocessing": {"current_process": _this_process},
    "concurrent.futures.process": {"BrokenProcessPool": BrokenExecutor},  # which it is one of
}


class _Later(ModuleType):
    """Stands for a module until something of it is used; importlib.util.LazyLoader loads it at ``import``."""

    def __getattr__(self, attribute: str) -> Any:
        """Put the true module into its place and hand on what was asked for."""
        if attribute.startswith("__"):  # the import system looks for marks of its own
            raise AttributeError(attribute)
        module = _true(self.__name__)
        self.__dict__.update(module.__dict__)  # whoever holds the stand-in has all of it from now on
        return getattr(module, attribute)


def postpone_what_is_never_used() -> None:
    """Have these modules loaded at their first use; call this before anything imports them."""
    os.environ.setdefault(
        "PYDANTIC_DISABLE_PLUGINS", "__all__"
    )  # looks through every package's metadata, too
    for name, given in NEVER_USED.items():
        spec = None if name in sys.modules else find_spec(name)
        if spec is None:
            continue
        stand_in = _Later(name)
        stand_in.__spec__ = spec
        stand_in.__path__ = spec.submodule_search_locations or []
        stand_in.__dict__.update(given)
        package, _, last = name.rpartition(".")
        if package:
            setattr(sys.modules[package], last, stand_in)
        sys.modules[name] = stand_in
