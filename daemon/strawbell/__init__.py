"""Strawbell: weather-aware morning reminders for growing vegetables in straw bales."""

__version__ = "0.2.0"
