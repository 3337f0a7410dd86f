"""Diagnosis: is everything working? Pure: hints before a decision, lessons and alarms after it."""
