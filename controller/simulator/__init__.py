"""The simulated house: weather, air, ground, water and plant behind the same ports the real parts use."""
