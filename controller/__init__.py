"""Unattended controller for a greenhouse that stores sun heat in the soil under its beds.

Once a tick: sensors -> readings -> decision -> outputs -> history / telemetry.

``sensors`` fetch raw samples, ``readings`` judge them, ``decision`` turns a snapshot of judged readings into
commands with reasons (one pure function), ``outputs`` drive the relays under a lease, ``history`` and
``telemetry`` show what it did and can never hold control up. ``simulator`` puts a simulated house behind
the same sensor and output ports, and ``rehearsal`` lets the real loop control it in simulated time;
``startup`` is the only file that chooses between real and simulated.
"""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("hypocaust")
except PackageNotFoundError:  # run from a checkout that is not installed
    __version__ = "0"
