"""How soon each fault is reported, and how often a sound house calls for nothing."""
