"""What happened, on disk: readings, output changes with their reasons, alarms, days, events."""
