"""Settings: what they may be (schema), how people write them (quantities), reading and locating errors."""
