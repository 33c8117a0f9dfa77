"""Journal and outbox in SQLite."""
