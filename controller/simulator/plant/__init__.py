"""The simulated house behind the ports: probes, floats and switches, what breaks in them, and the clock."""
