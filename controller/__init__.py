"""Unattended controller for a greenhouse that stores sun heat in the soil under its beds.

Once a tick: sensors -> readings -> decision -> outputs -> history / telemetry.

``sensors`` fetch raw samples, ``readings`` judge them, ``decision`` turns a snapshot of judged readings into
commands with reasons (one pure function), ``outputs`` drive the relays under a lease, ``history`` and
``telemetry`` show what it did and can never hold control up. ``simulator`` puts a simulated house behind
the same sensor and output ports, and ``rehearsal`` lets the real loop control it in simulated time;
``startup`` is the only file that chooses between real and simulated.
"""

# The one place of the version; the package's metadata take it from here. Asking the metadata instead would
# keep the e-mail and zip libraries in the daemon's memory.
__version__ = "0.1.0"
