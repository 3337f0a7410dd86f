"""Outputs: what OFF means, who may drive a relay and for how long a command lives."""
