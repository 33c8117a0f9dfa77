"""The season as an iCalendar file, read back with another parser."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from strawbell.decision.brief import brief
from strawbell.decision.projection import season
from strawbell.model.journal import Journal
from strawbell.words.calendar import calendar_bytes
from support.gardens import START, at, forecast, garden, hour_at, on_day, tell


@dataclass(frozen=True)
class Read:
    """One entry as RFC 5545 spells it, by a reader of our own: unfold, split, unescape."""

    uid: str
    sequence: int
    on: date
    status: str
    summary: str


def read(content: bytes) -> dict[str, Read]:
    """Return the entries by identifier (RFC 5545, section 3.1: lines fold at CRLF and a blank)."""
    text = content.decode("utf-8").replace("\r\n ", "")
    found = {}
    for block in text.split("BEGIN:VEVENT")[1:]:
        lines = [line for line in block.split("\r\n") if ":" in line]
        values = {line.split(":", 1)[0]: line.split(":", 1)[1] for line in lines}
        starts = values["DTSTART;VALUE=DATE"]
        entry = Read(
            values["UID"],
            int(values["SEQUENCE"]),
            date(int(starts[:4]), int(starts[4:6]), int(starts[6:8])),
            values["STATUS"],
            values["SUMMARY"].replace("\\,", ",").replace("\\;", ";"),
        )
        found[entry.uid] = entry
    return found


def written(journal: Journal, day: int, previous: bytes | None = None, hour: int = 6) -> bytes:
    """Return the calendar as it is written on a day of the sequence."""
    moment = at(on_day(day), hour)
    plan = garden()
    days = season(plan, journal, forecast(moment), moment)
    return calendar_bytes(days, plan, previous, moment)


def test_every_conditioning_day_is_an_all_day_entry() -> None:
    """Twelve entries: the first soaking and eleven days."""
    entries = read(written((), 1)).values()
    assert len(entries) == 12
    assert {entry.on for entry in entries} == {START + timedelta(days=day) for day in range(11)}


def test_the_same_plan_gives_the_same_bytes_hours_later() -> None:
    """Nothing moved, so nothing is stamped anew."""
    first = written((), 1)
    assert written((), 1, first, hour=15) == first


def test_a_moved_entry_keeps_its_identifier_and_raises_its_sequence() -> None:
    """A feeding held for a day moves, takes the place of the water after it, and moves no other."""
    plan = garden()
    before = written((), 1)
    journal: Journal = ()
    for day in range(1, 6):
        moment = at(on_day(day))
        cold = hour_at(at(on_day(6), 5, 0), temperature_c=-2.0)
        journal = tell(journal, brief(plan, journal, forecast(moment, cold), moment))
    after = read(written(journal, 6, before))
    old = read(before)
    moved = [uid for uid, entry in after.items() if entry.on != old[uid].on]
    assert set(after) == set(old)
    assert len(moved) == 1
    assert {after[uid].sequence for uid in moved} == {1}


def test_what_falls_away_is_cancelled_and_leaves_after_a_while() -> None:
    """An entry of a plan that is gone is kept cancelled for two weeks past its date."""
    before = written((), 1)
    empty = calendar_bytes((), garden(), before, at(on_day(2)))
    assert {entry.status for entry in read(empty).values()} == {"CANCELLED"}
    assert {entry.sequence for entry in read(empty).values()} == {1}
    again = calendar_bytes((), garden(), empty, at(on_day(3)))
    assert again == empty
    assert read(calendar_bytes((), garden(), again, at(on_day(60)))) == {}


def test_lines_are_no_longer_than_the_standard_allows() -> None:
    """RFC 5545, section 3.1: 75 octets without the line break."""
    assert max(len(line) for line in written((), 1).split(b"\r\n")) <= 75


def test_a_file_that_is_no_calendar_is_written_anew() -> None:
    """Garbage before does no harm."""
    assert len(read(written((), 1, b"not a calendar"))) == 12
