"""Decision: one pure function from a snapshot of readings to commands, each with its reason."""
