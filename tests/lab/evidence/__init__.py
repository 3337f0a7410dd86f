"""What is claimed of a house's log, against the rehearsed truth."""
