"""Explores every reachable state of the real decision over a coarse grid of time and weather."""
