"""What ten years of history cost: size, time of questions, backups, bytes written."""
