"""Writes the calendar of a garden again whenever its plan may have moved."""

from __future__ import annotations

from datetime import datetime

from strawbell.app.ports import Calendars
from strawbell.decision.projection import season
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden
from strawbell.model.names import slug
from strawbell.season.journal_index import JournalIndex


class CalendarKeeper:
    """Keeps one calendar a garden; without `calendars` it does nothing."""

    def __init__(self, calendars: Calendars | None) -> None:
        """Keep where calendars lie."""
        self._calendars = calendars
        self._written_at_row: dict[str, int] = {}

    def keep(
        self,
        garden: Garden,
        index: JournalIndex,
        row: int,
        forecast: Forecast | None,
        now: datetime,
    ) -> tuple[str, ...]:
        """Write the calendar when the journal has grown to `row` since; return complaints.

        The same plan gives the same bytes, and then the file is left alone. What cannot be
        written now is tried again at the next look.
        """
        if self._calendars is None or self._written_at_row.get(garden.name) == row:
            return ()
        # Here, not above: who keeps no calendar need not load how one is written.
        from strawbell.words.calendar import calendar_bytes

        name = slug(garden.name)
        try:
            before = self._calendars.read(name)
            content = calendar_bytes(season(garden, index, forecast, now), garden, before, now)
            if content != before:
                self._calendars.write(name, content)
        except OperationalError as error:
            return (str(error),)
        self._written_at_row[garden.name] = row
        return ()
