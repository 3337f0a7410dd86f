"""The simulated house behind the same ports the real parts use: weather, house and ground, plant."""
