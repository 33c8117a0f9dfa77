"""What commands print: plain text without colour and without a single control byte but newlines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from shlex import quote

from strawbell.model.brief import (
    Action,
    BatchOutlook,
    Brief,
    Reason,
    ReasonCode,
    State,
    Task,
    WorkKind,
)
from strawbell.model.forecast import DayWeather, ForecastStatus, ForecastUse
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.summary import NO_CHANCES, Chances
from strawbell.words.advice import NOTHING_EXPLAINED, noun
from strawbell.words.escaping import (
    LINE_WIDTH,
    capital,
    clean,
    clean_lines,
    count,
    cut,
    name,
    table,
    wrap,
)
from strawbell.words.figures import figure_words
from strawbell.words.morning import how_lines, morning_page
from strawbell.words.outlook import outlook_words
from strawbell.words.page import page_text
from strawbell.words.reasons import number_of, reason_sentence
from strawbell.words.summary_text import chances_text
from strawbell.words.voice import DAY, Voice, long_day
from strawbell.words.weather import forecast_words, weather_words

NAME_COLUMN = 24
"""Widest name in a table [characters]."""
TEXT_COLUMN = 60
"""Widest text in a table [characters]."""

_ANSWERED = frozenset({Action.SOAK, Action.FEED, Action.PLANT, Action.SOW})
"""Work on which what follows depends; the rest needs no answer."""
_UNMEASURED = "Core by the model alone; a probe narrows it."

_NO_DAY_IS_NEAR = date.min
"""Stands for today where a day long past is explained, so that every date is said in full."""

SeasonRow = tuple[date, Task]
"""A task of a season and its date."""


def today_screen(
    brief: Brief,
    garden: Garden,
    width: int = LINE_WIDTH,
    explained: Mapping[WorkKind, date] = NOTHING_EXPLAINED,
) -> str:
    """Return the brief as `strawbell today` prints it, and how the tasks are called.

    `explained` says when work of a kind was explained before.
    """
    page = morning_page(brief, garden, explained)
    return page_text(page, width=width) + _keys(brief, width)


def how_screen(tasks: Iterable[Task], garden: Garden, on: date, width: int = LINE_WIDTH) -> str:
    """Return the steps and the cautions of work, as `strawbell how` prints them."""
    blocks = (
        "\n".join((wrap(first, width=width), *(wrap(each, "- ", width=width) for each in rest)))
        for first, *rest in how_lines(tasks, garden, on)
    )
    return clean_lines("\n\n".join(blocks)) + "\n"


def _keys(brief: Brief, width: int) -> str:
    """Return the words with which the tasks of the day are answered, "" where nothing is due."""
    due = [task for task in brief.tasks if task.state is State.DUE and task.action in _ANSWERED]
    if not due:
        return ""
    said = "What you do not answer counts as done. Where it was not possible, type:"
    told = wrap(said, width=width)
    words = (f"  strawbell record missed {quote(clean(task.key.text()))}" for task in due)
    return clean_lines("\n".join(("", told, *words))) + "\n"


def season_screen(
    rows: Iterable[SeasonRow],
    garden: Garden,
    today: date,
    outlooks: Iterable[BatchOutlook] = (),
    width: int = LINE_WIDTH,
) -> str:
    """Return a season day by day; what is due after `today` is marked as planned.

    The same work on days that follow one another is one line from its first date to its last.
    Above it, how each batch stands by computation.
    """
    voice = Voice.of(garden, today)
    lines = [
        (_dates_said(first, last, voice), *cells)
        for first, last, cells in _runs(rows, today, voice)
    ]
    shown = name(garden.name)
    if not lines:
        return clean_lines(f"{shown}: nothing planned.\n")
    head = ("Date", "Batch", "Day", "Task", "State", "Amount")
    note = wrap(
        "Planned days are a projection: they move with the weather and your record.", width=width
    )
    stands = "\n".join(
        wrap(outlook_words(each, voice), "- ", "  ", width=width) for each in outlooks
    )
    top = f"{shown}\n\n{stands}" if stands else shown
    return clean_lines(f"{top}\n\n{table(head, lines, width)}\n\n{note}\n")


def _runs(
    rows: Iterable[SeasonRow], today: date, voice: Voice
) -> list[tuple[date, date, tuple[str, ...]]]:
    """Return what stands in each line, and its first and last date."""
    runs: list[tuple[date, date, tuple[str, ...]]] = []
    latest: dict[tuple[str, ...], int] = {}
    for on, task in rows:
        cells = _cells(on, task, today, voice)
        at = latest.get(cells)
        if at is not None and task.day is None and on - runs[at][1] == DAY:
            runs[at] = (runs[at][0], on, cells)
        else:
            latest[cells] = len(runs)
            runs.append((on, on, cells))
    return runs


def _cells(on: date, task: Task, today: date, voice: Voice) -> tuple[str, ...]:
    planned = on > today and task.state is State.DUE
    return (
        name(task.batch, NAME_COLUMN),
        "" if task.day is None else str(task.day),
        _what(task),
        "planned" if planned else voice.tongue.of("state", task.state),
        _amount(task, voice),
    )


def _dates_said(first: date, last: date, voice: Voice) -> str:
    said = voice.day(first)
    return said if first == last else voice.say("when.from_to", first=said, last=voice.day(last))


def journal_screen(
    entries: Iterable[JournalEntry],
    garden: Garden,
    width: int = LINE_WIDTH,
    chances: Chances = NO_CHANCES,
) -> str:
    """Return journal rows, oldest first as given, on the garden's clock, and `chances`."""
    rows = list(entries)
    shown = name(garden.name)
    if not rows:
        return clean_lines(f"{shown}: nothing in the journal yet.\n")
    voice = Voice.of(garden, rows[-1].local_date)
    head = ("When", "What", "Batch", "Task", "Word")
    lines = [
        (
            _when(entry.at, voice),
            entry.kind.value,
            name(entry.batch, NAME_COLUMN) if entry.batch else "",
            cut(clean(entry.task or ""), 2 * NAME_COLUMN),
            _word(entry, voice),
        )
        for entry in rows
    ]
    parts = (shown, table(head, lines, width), chances_text(chances, voice))
    return clean_lines("\n\n".join(filter(None, parts)) + "\n")


def why_screen(data: Mapping[str, object], garden: Garden) -> str:
    """Return the numbers behind a day from its brief as it was kept (`json_v1.brief_json`).

    What an older version did not keep is left out; what it kept under a name unknown here is
    shown as it stands.
    """
    on = date.fromisoformat(str(data["date"]))
    voice = Voice.of(garden, _NO_DAY_IS_NEAR)
    blocks = [
        f"{name(str(data.get('garden', garden.name)))}, {long_day(on, voice.measures.tongue)}"
    ]
    if (as_of := _moment(data.get("as_of"))) is not None:
        local = voice.local(as_of)
        blocks.append(f"Decided at {voice.clock(local)} on {voice.day(local.date())}.")
    blocks.append(forecast_words(_use(_mapping(data.get("forecast"))), voice))
    weather = _weather(_mapping(data.get("weather")))
    blocks.append(
        wrap(f"The day's weather: {weather_words(weather, voice) or voice.say('amount.unknown')}.")
    )
    blocks += [_why_task(task, voice) for task in _mappings(data.get("tasks"))]
    blocks += [_why_alert(alert, voice) for alert in _mappings(data.get("alerts"))]
    blocks += [_why_outlook(outlook, voice) for outlook in _mappings(data.get("outlooks"))]
    return clean_lines("\n\n".join(blocks)) + "\n"


def _what(task: Task) -> str:
    crops = ", ".join(name(crop, NAME_COLUMN) for crop in task.crops)
    return f"{noun(task.action)}{' ' if crops else ''}{crops}"


def _amount(task: Task, voice: Voice) -> str:
    if task.dose is not None:
        mass = voice.measures.mass(task.dose.per_bale_g)
        return f"{mass} of {name(task.dose.feed, NAME_COLUMN)} a bale"
    if task.water_per_bale_l is not None:
        return f"{voice.measures.water(task.water_per_bale_l)} a bale"
    return "" if task.plants is None else f"{task.plants} plants"


def _when(at: datetime, voice: Voice) -> str:
    local = voice.local(at)
    on = voice.measures.tongue.date("date.table", local.date())
    return f"{on} {voice.clock(local)}"


def _word(entry: JournalEntry, voice: Voice) -> str:
    units: dict[EntryKind, Callable[[float | None], str]] = {
        EntryKind.TEMPERATURE: voice.measures.temperature,
        EntryKind.RAIN: voice.measures.rain,
        EntryKind.LOW: voice.measures.temperature,
        EntryKind.HARVEST: lambda kg: voice.measures.mass(None if kg is None else kg * 1000),
    }
    value = ""
    if entry.value is not None:
        said = units.get(entry.kind)
        value = said(entry.value) if said else voice.measures.number(entry.value, 2)
    elif isinstance(pieces := entry.data.get("pieces"), (int, float)):
        value = count(round(pieces), "piece")
    parts = (entry.state or "", value, clean(entry.text))
    return cut(", ".join(clean(part) for part in parts if part), TEXT_COLUMN)


def _why_task(task: Mapping[str, object], voice: Voice) -> str:
    which = f", day {task['day']}" if task.get("day") is not None else ""
    state = f"{task.get('action')}, {task.get('state')}"
    lines = [wrap(clean(f"{name(str(task.get('batch')))}{which}: {state} ({task.get('key')})"))]
    amounts = figure_words(_amounts(task), voice.measures)
    if amounts:
        feed = task.get("feed")
        of = f" of {name(str(feed))}" if feed else ""
        lines.append(wrap(f"Amounts{of}: {'; '.join(amounts)}.", "  "))
    if task.get("held_until"):
        held = _number(task.get("held_days")) or 0
        so_far = f", held {held:g} days before" if held else ""
        lines.append(wrap(clean(f"Held until {task['held_until']} at the earliest{so_far}."), "  "))
    lines += _why_reasons(task, voice)
    figures = figure_words(_numbers(_mapping(task.get("figures"))), voice.measures)
    if figures:
        lines.append(wrap(f"Figures: {'; '.join(figures)}.", "  "))
    return "\n".join(lines)


def _why_alert(alert: Mapping[str, object], voice: Voice) -> str:
    where = f", {name(str(alert['batch']))}" if alert.get("batch") else ""
    lines = [wrap(clean(f"Alert: {alert.get('code')}{where}"))]
    lines += _why_reasons(alert, voice)
    figures = figure_words(_numbers(_mapping(alert.get("figures"))), voice.measures)
    if figures:
        lines.append(wrap(f"Figures: {'; '.join(figures)}.", "  "))
    return "\n".join(lines)


def _why_outlook(outlook: Mapping[str, object], voice: Voice) -> str:
    kept = _numbers(_mapping(outlook.get("figures")))
    probe = kept.pop("core_from_probe", None)
    figures = figure_words(kept, voice.measures)
    lines = [wrap(clean(f"{name(str(outlook.get('batch')))}: {outlook.get('stage')}"))]
    lines += [wrap(clean(f"{capital(figure)}."), "  ") for figure in figures]
    if probe is not None:
        lines.append(wrap("Core by your probe and the model." if probe else _UNMEASURED, "  "))
    if outlook.get("ready_on"):
        latest = outlook.get("ready_on_latest") or outlook["ready_on"]
        lines.append(wrap(clean(f"Ready from {outlook['ready_on']}, by {latest}."), "  "))
    return "\n".join(lines)


def _why_reasons(item: Mapping[str, object], voice: Voice) -> list[str]:
    reasons = _mappings(item.get("reasons"))
    if not reasons:
        return [wrap("No rule held it or spoke of it.", "  ")]
    return [line for reason in reasons for line in _why_reason(reason, voice)]


def _why_reason(data: Mapping[str, object], voice: Voice) -> list[str]:
    """Return a reason as its sentence and as the comparison it rests on."""
    unit = str(data.get("unit") or "")
    value, limit = _number(data.get("value")), _number(data.get("threshold"))
    compared = ""
    if value is not None and limit is not None:
        shown = (number_of(number, unit, voice) for number in (value, limit))
        compared = " against ".join(shown)
    try:
        code = ReasonCode(str(data.get("code")))
    except ValueError:
        said = f"{data.get('code')}: {compared or 'no numbers kept'}"
        return [wrap(clean(said), "  - ")]
    chance = _number(data.get("chance"))
    reason = Reason(code, value, limit, unit, _moment(data.get("at")), chance)
    lines = [wrap(reason_sentence(reason, voice), "  - ")]
    if compared:
        lines.append(wrap(f"({code.value}: {compared})", "    "))
    return lines


def _amounts(task: Mapping[str, object]) -> dict[str, float]:
    names = (
        "per_bale_g",
        "total_g",
        "nitrogen_per_bale_g",
        "phosphorus_per_bale_g",
        "potassium_per_bale_g",
        "water_per_bale_l",
    )
    known = _numbers({each: task.get(each) for each in names})
    return {each: number for each, number in known.items() if number}


def _numbers(data: Mapping[str, object]) -> dict[str, float]:
    found = {key: _number(value) for key, value in data.items()}
    return {key: number for key, number in found.items() if number is not None}


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, (int, float)) else None


def _moment(value: object) -> datetime | None:
    return datetime.fromisoformat(value) if isinstance(value, str) else None


def _mapping(value: object) -> Mapping[str, object]:
    return value if isinstance(value, Mapping) else {}


def _mappings(value: object) -> list[Mapping[str, object]]:
    return [each for each in value if isinstance(each, Mapping)] if isinstance(value, list) else []


def _use(data: Mapping[str, object]) -> ForecastUse:
    source = data.get("source")
    return ForecastUse(
        status=ForecastStatus(str(data.get("status") or ForecastStatus.MISSING)),
        source=str(source) if source else None,
        issued_at=_moment(data.get("issued_at")),
        age_h=_number(data.get("age_h")),
    )


def _weather(data: Mapping[str, object]) -> DayWeather:
    return DayWeather(
        low_c=_number(data.get("low_c")),
        high_c=_number(data.get("high_c")),
        rain_mm=_number(data.get("rain_mm")),
        rain_chance_percent=_number(data.get("rain_chance_percent")),
        complete=bool(data.get("complete")),
    )
