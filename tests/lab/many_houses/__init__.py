"""Many controllers on one broker."""
