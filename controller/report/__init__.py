"""What a house's history amounts to: figures, days and alarms, as data and as a page for people."""
