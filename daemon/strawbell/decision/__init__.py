"""What the day's brief says: work held or told, and why."""
