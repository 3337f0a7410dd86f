"""Recorded days once more through the same loop and decision, with the same or with other settings."""
