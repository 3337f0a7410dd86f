"""What libraries import and the daemon never uses stays out of memory, and still works where it is used."""

from __future__ import annotations

import subprocess
import sys

from tests.process.bench import ROOT

PROGRAM = """
import sys
from controller.service.lean import postpone_what_is_never_used
postpone_what_is_never_used()
import controller.startup
import apscheduler.schedulers.background, apscheduler.triggers.cron
import paho.mqtt.client
assert "asyncio.events" not in sys.modules, "something uses asyncio while it is imported"
assert "http.client" not in sys.modules, "something uses urllib.request while it is imported"
assert "email" not in sys.modules, "something uses importlib.metadata while it is imported"
assert "multiprocessing.connection" not in sys.modules, "something uses processes while it is imported"

import urllib.request
assert urllib.request.getproxies_environment() is not None
assert "http.client" in sys.modules

import importlib.metadata
assert importlib.metadata.entry_points(group="console_scripts") == ()
assert len(importlib.metadata.entry_points()) > 0
by_folder = importlib.metadata.version("APScheduler")
assert importlib.metadata.metadata("APScheduler")["Version"] == by_folder
import importlib.metadata
assert importlib.metadata.version("APScheduler") == by_folder
assert list(importlib.metadata.entry_points(group="console_scripts"))

import concurrent.futures, multiprocessing
with concurrent.futures.ProcessPoolExecutor(1, multiprocessing.get_context("fork")) as pool:
    assert pool.submit(abs, -42).result() == 42

import pickle
assert pickle.loads(pickle.dumps([42])) == [42]
import pickle as again
assert pickle.PicklingError is again.PicklingError

import asyncio
held = asyncio

async def answer():
    await held.sleep(0)
    return 42

assert asyncio.run(answer()) == 42
assert sys.modules["asyncio"].iscoroutinefunction(answer)
import asyncio.queues
postpone_what_is_never_used()
assert "asyncio.queues" in sys.modules
"""


def test_what_is_never_used_is_loaded_at_its_first_use_and_not_before() -> None:
    """The daemon's imports leave it out; whoever asks for it gets all of it, by either name."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
