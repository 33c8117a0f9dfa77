"""An AnswerCache in memory, and a ForecastSource in memory."""

from __future__ import annotations

from datetime import datetime

from strawbell.app.ports import CachedAnswer
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place


class MemoryAnswers:
    """Keeps the last good answer of each URL until the test ends."""

    def __init__(self) -> None:
        self.answers: dict[str, CachedAnswer] = {}

    def load(self, url: str) -> CachedAnswer | None:
        return self.answers.get(url)

    def keep(self, answer: CachedAnswer) -> None:
        self.answers[answer.url] = answer


class MemoryForecasts:
    """A source that gives what it was given, or fails when it was given a sentence."""

    def __init__(
        self, name: str, answer: Forecast | str, *, everywhere: bool = True, kept: object = None
    ) -> None:
        self.name = name
        self.answer = answer
        self.everywhere = everywhere
        self.kept = kept
        self.asked = 0

    def covers(self, place: Place) -> bool:
        return self.everywhere

    def fetch(self, place: Place, now: datetime) -> Forecast:
        self.asked += 1
        if isinstance(self.answer, str):
            raise OperationalError(self.answer)
        return self.answer

    def last_good(self, place: Place) -> Forecast | None:
        return self.kept if isinstance(self.kept, Forecast) else None
