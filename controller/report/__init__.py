"""What a house's history amounts to: figures, days and alarms, as data, as a page for people, and its charts."""
