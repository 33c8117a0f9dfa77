"""Feeds, doses, schedules and what the shed needs."""
