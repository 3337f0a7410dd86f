"""How soon each fault is told, and how often a sound house calls for nothing."""
