"""A season as JSON: the same tasks as `today`, date by date."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from strawbell.model.garden import Garden
from strawbell.model.season import SeasonDay
from strawbell.words.json_v1 import VERSION, Json, task_json, weather_json
from strawbell.words.voice import Voice


def season_json(days: Iterable[SeasonDay], garden: Garden, today: date) -> Json:
    """Return the season of a garden; `projected` days move with weather and record."""
    voice = Voice.of(garden, today)
    return {
        "version": VERSION,
        "garden": garden.name,
        "date": today.isoformat(),
        "days": [
            {
                "date": day.on.isoformat(),
                "projected": day.projected,
                "weather": weather_json(day.weather),
                "tasks": [task_json(task, voice) for task in day.tasks],
            }
            for day in days
        ],
    }
