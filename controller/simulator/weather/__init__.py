"""Years of weather: read from files, filled in, shifted, invented."""
