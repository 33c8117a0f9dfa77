"""What commands print: plain text without colour and without a single control byte but newlines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, time
from shlex import quote

from strawbell.model.brief import (
    PLANTS,
    Action,
    BatchOutlook,
    Brief,
    Reason,
    ReasonCode,
    State,
    Task,
    WorkKind,
)
from strawbell.model.details import CoreEstimate, MakeUpEstimate, NitrogenEstimate
from strawbell.model.forecast import DayWeather, ForecastStatus, ForecastUse
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.season import NO_CHANCES, Chances
from strawbell.words.advice import NOTHING_EXPLAINED, noun
from strawbell.words.escaping import LINE_WIDTH, clean, clean_lines, cut, name, table, wrap
from strawbell.words.morning import how_lines, morning_page
from strawbell.words.page import page_text
from strawbell.words.reasons import number_of, reason_sentence
from strawbell.words.summary import chances_text
from strawbell.words.voice import DAY, Voice, feed_name, forecast_words, weather_words


def outlook_words(outlook: BatchOutlook, voice: Voice) -> str:
    """Return how a batch stands, in a few sentences."""
    say, measures, said = voice.say, voice.measures, []
    if (conditioning := outlook.conditioning) is not None:
        done, to_go = map(measures.band, (conditioning.done_days, conditioning.to_go_days))
        said.append(say("outlook.conditioned", done=done, to_go=to_go))
    if (on := outlook.ready_on) is not None:
        latest = None if outlook.ready_on_latest == on else outlook.ready_on_latest
        until = None if latest is None else voice.day(latest)
        said.append(say("outlook.ready", ready=voice.date_said(on), latest=until))
    if outlook.core is not None:
        said.append(_core(outlook.core, voice))
    if outlook.nitrogen is not None:
        said.append(_nitrogen(outlook.nitrogen, voice))
    if outlook.make_up is not None:
        said.append(_make_up(outlook.make_up, voice))
    if outlook.evaporation_mm is not None:
        said.append(say("outlook.evaporation", rain=measures.rain(outlook.evaporation_mm)))
    stage = voice.tongue.of("stage", outlook.stage)
    return say("outlook.line", batch=name(outlook.batch), stage=stage, said=" ".join(said))


def _core(core: CoreEstimate, voice: Voice) -> str:
    # A band tens of degrees wide has no tenths.
    measures = voice.measures
    low, high = map(measures.whole_degrees, (core.low_c, core.high_c))
    inside = measures.joined(measures.degree, measures.from_to(low, high))
    return voice.say("outlook.core", inside=inside, probe=core.from_probe)


def _nitrogen(nitrogen: NitrogenEstimate, voice: Voice) -> str:
    measures, ratio, lost = voice.measures, nitrogen.carbon_to_nitrogen, None
    if (nitrogen.lost_g.high or 0.0) >= LEAST_LOSS_G:
        lost = measures.from_to(*map(measures.mass, (nitrogen.lost_g.low, nitrogen.lost_g.high)))
    low, high = (measures.number(end, 0) for end in (ratio.low, ratio.high))
    return voice.say(
        "outlook.nitrogen",
        given=measures.mass(nitrogen.given_g),
        planned=measures.mass(nitrogen.planned_g),
        lost=lost,
        low=low,
        high=None if low == high else high,
    )


def _make_up(make_up: MakeUpEstimate, voice: Voice) -> str:
    mass = voice.measures.mass
    feed, nitrogen = mass(make_up.feed_g), mass(make_up.nitrogen_g)
    return voice.say("outlook.make-up", feed=feed, nitrogen=nitrogen)


LEAST_LOSS_G = 1.0
"""A loss under this is not worth a word [g N per bale]."""


NAME_COLUMN = 24
"""Widest name in a table [characters]."""
TEXT_COLUMN = 60
"""Widest text in a table [characters]."""
HOURS_A_DAY, MINUTES_AN_HOUR = 24, 60

_ANSWERED = PLANTS | {Action.SOAK, Action.FEED}
"""Work on which what follows depends; the rest needs no answer."""
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
    return page_text(page, width=width) + _keys(brief, garden, width)


def how_screen(tasks: Iterable[Task], garden: Garden, on: date, width: int = LINE_WIDTH) -> str:
    """Return the steps and the cautions of work, as `strawbell how` prints them."""
    blocks = (
        "\n".join((wrap(first, width=width), *(wrap(each, "- ", width=width) for each in rest)))
        for first, *rest in how_lines(tasks, garden, on)
    )
    return clean_lines("\n\n".join(blocks)) + "\n"


def _keys(brief: Brief, garden: Garden, width: int) -> str:
    """Return the words with which the tasks of the day are answered, "" where nothing is due."""
    due = [task for task in brief.tasks if task.state is State.DUE and task.action in _ANSWERED]
    if not due:
        return ""
    asked = any(task.is_conditional for task in due)
    told = wrap(Voice.of(garden, brief.on).say("terminal.keys", asked=asked), width=width)
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
        return clean_lines(voice.say("terminal.nothing-planned", garden=shown) + "\n")
    head = _heads(voice, "date", "batch", "day", "task", "state", "amount")
    note = wrap(voice.say("terminal.projection"), width=width)
    stands = "\n".join(
        wrap(outlook_words(each, voice), "- ", "  ", width=width) for each in outlooks
    )
    parts = (shown, stands, table(head, lines, width), note)
    return clean_lines("\n\n".join(filter(None, parts)) + "\n")


def _heads(voice: Voice, *columns: str) -> tuple[str, ...]:
    return tuple(voice.say(f"column.{each}") for each in columns)


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
        _what(task, voice),
        voice.say("terminal.planned") if planned else voice.tongue.of("state", task.state),
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
    voice = Voice.of(garden, rows[-1].local_date if rows else _NO_DAY_IS_NEAR)
    if not rows:
        return clean_lines(voice.say("terminal.no-journal", garden=shown) + "\n")
    head = _heads(voice, "when", "what", "batch", "task", "word")
    lines = [
        (
            _when(entry.at, voice),
            voice.tongue.of("entry", entry.kind),
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
    voice = Voice.of(garden, _NO_DAY_IS_NEAR)
    decided = None
    if (as_of := _moment(data.get("as_of"))) is not None:
        local = voice.local(as_of)
        clock, day = voice.clock(local), voice.day(local.date())
        decided = voice.say("why.decided", clock=clock, day=day)
    head = voice.say(
        "page.head",
        garden=name(str(data.get("garden", garden.name))),
        date=voice.tongue.date("date.long", date.fromisoformat(str(data["date"]))),
    )
    weather = weather_words(_weather(_mapping(data.get("weather"))), voice)
    blocks = [
        head,
        *((decided,) if decided else ()),
        forecast_words(_use(_mapping(data.get("forecast"))), voice),
        wrap(voice.say("why.weather", weather=weather)),
        *(_why_task(each, voice) for each in _mappings(data.get("tasks"))),
        *(_why_alert(each, voice) for each in _mappings(data.get("alerts"))),
        *(_why_outlook(each, voice) for each in _mappings(data.get("outlooks"))),
    ]
    return clean_lines("\n\n".join(blocks)) + "\n"


def _what(task: Task, voice: Voice) -> str:
    crops = voice.tongue.listing((name(crop, NAME_COLUMN) for crop in task.crops), "comma")
    return voice.say("task.named", noun=noun(task.action, voice.tongue), crops=crops)


def _amount(task: Task, voice: Voice) -> str:
    dose, measures = task.dose, voice.measures
    if dose is None and task.water_per_bale_l is None and task.plants is None:
        return ""
    return voice.say(
        "terminal.amount",
        mass=None if dose is None else measures.mass(measures.dose_g(dose.per_bale_g)),
        feed=None if dose is None else feed_name(dose.feed, voice.tongue),
        water=None if task.water_per_bale_l is None else measures.water(task.water_per_bale_l),
        plants=task.plants or 0,
    )


def _when(at: datetime, voice: Voice) -> str:
    local = voice.local(at)
    return voice.say(
        "terminal.when",
        date=voice.tongue.date("date.table", local.date()),
        clock=voice.clock(local),
    )


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
        value = voice.say("back.pieces", count=round(pieces))
    kept, known = clean(entry.state or ""), voice.tongue.known
    state = known(f"outcome.{_row(kept)}") or kept
    parts = (state, clean(value), clean(entry.text))
    return cut(voice.tongue.listing(filter(None, parts), "comma"), TEXT_COLUMN)


# Why: a kept document, which may be of an older version or a newer one.


def _row(code: str) -> str:
    """Return the row of the catalogue that a code of a document would have."""
    return code.replace(" ", "-").replace("_", "-")


def _why_task(task: Mapping[str, object], voice: Voice) -> str:
    action, state, known = str(task.get("action")), str(task.get("state")), voice.tongue.known
    head = voice.say(
        "why.task",
        batch=name(str(task.get("batch"))),
        day=_number(task.get("day")),
        action=known(f"action.{_row(action)}.noun") or clean(action),
        state=known(f"state.{_row(state)}") or clean(state),
        key=clean(str(task.get("key"))),
    )
    lines = []
    if amounts := _figures_said({each: task.get(each) for each in _AMOUNTS}, voice, idle=False):
        feed = task.get("feed") and name(str(task.get("feed")))
        lines.append(voice.say("why.amounts", feed=str(feed or ""), amounts=amounts))
    if until := task.get("held_until"):
        days = round(_number(task.get("held_days")) or 0)
        lines.append(voice.say("why.held", until=clean(str(until)), days=days))
    return _why_block(head, lines, task, voice)


def _why_alert(alert: Mapping[str, object], voice: Voice) -> str:
    batch = name(str(alert["batch"])) if alert.get("batch") else None
    code = clean(str(alert.get("code")))
    said = voice.tongue.known(f"warning.{_row(code)}") or code
    return _why_block(voice.say("why.alert", code=said, batch=batch), (), alert, voice)


def _why_block(head: str, lines: Iterable[str], item: Mapping[str, object], voice: Voice) -> str:
    """Return a head, lines of its own, the reasons and the figures of a task or an alert."""
    reasons = _mappings(item.get("reasons"))
    found = [wrap(head), *(wrap(each, "  ") for each in lines)]
    found += [wrap(each, "  - ") for reason in reasons for each in _why_reason(reason, voice)]
    if not reasons:
        found.append(wrap(voice.say("why.no-reason"), "  "))
    if figures := _figures_said(_mapping(item.get("figures")), voice):
        found.append(wrap(voice.say("why.figures", figures=figures), "  "))
    return "\n".join(found)


def _why_outlook(outlook: Mapping[str, object], voice: Voice) -> str:
    kept = dict(_mapping(outlook.get("figures")))
    probe = kept.pop("core_from_probe", None)
    stage, batch = clean(str(outlook.get("stage"))), name(str(outlook.get("batch")))
    stage = voice.tongue.known(f"stage.{_row(stage)}") or stage
    lines = [wrap(voice.say("why.outlook", batch=batch, stage=stage))]
    if figures := _figures_said(kept, voice):
        lines.append(wrap(voice.say("why.figures", figures=figures), "  "))
    if probe is not None:
        lines.append(wrap(voice.say("why.core", probe=bool(probe)), "  "))
    if first := outlook.get("ready_on"):
        last = clean(str(outlook.get("ready_on_latest") or first))
        lines.append(wrap(voice.say("why.ready", first=clean(str(first)), last=last), "  "))
    return "\n".join(lines)


def _why_reason(data: Mapping[str, object], voice: Voice) -> tuple[str, ...]:
    """Return a reason as its sentence and as the comparison it rests on."""
    unit, code = str(data.get("unit") or ""), clean(str(data.get("code")))
    value, limit = _number(data.get("value")), _number(data.get("threshold"))
    compared = None
    if value is not None and limit is not None:
        shown, against = (number_of(each, unit, voice) for each in (value, limit))
        compared = voice.say("why.against", value=shown, limit=against)
    if code not in _REASONS:
        return (voice.say("why.unknown", code=code, compared=compared),)
    chance = _number(data.get("chance"))
    reason = Reason(ReasonCode(code), value, limit, unit, _moment(data.get("at")), chance)
    said = reason_sentence(reason, voice)
    return (voice.say("why.reason", said=said, code=code, compared=compared),)


_REASONS = frozenset(ReasonCode)
_AMOUNTS = (
    "per_bale_g",
    "total_g",
    "nitrogen_per_bale_g",
    "phosphorus_per_bale_g",
    "potassium_per_bale_g",
    "water_per_bale_l",
)
_LOW, _HIGH = "_low", "_high"


def _figures_said(kept: Mapping[str, object], voice: Voice, *, idle: bool = True) -> str:
    """Return the numbers of a kept document, the two ends of a band in one; `idle` with zeros.

    A name that an older version or a newer one has, and this one does not, is shown as it stands.
    """
    bands: dict[str, dict[str, float]] = {}
    for key, value in kept.items():
        number = _number(value)
        if number is not None and (number or idle):
            bare = key.removesuffix(_LOW).removesuffix(_HIGH)
            bands.setdefault(bare, {})[key.removeprefix(bare)] = number
    said = (_figure_said(bare, ends, voice) for bare, ends in bands.items())
    return voice.tongue.listing(said, "comma")


def _figure_said(bare: str, ends: Mapping[str, float], voice: Voice) -> str:
    words = bare.removesuffix("_per_bale").split("_")
    say, measures = _SAID.get(words[-1], _plain), voice.measures
    low, high = ends.get(_LOW), ends.get(_HIGH)
    if low is not None:
        value = measures.from_to(say(low, voice), "" if high is None else say(high, voice))
    elif high is not None:
        value = voice.say("amount.most", amount=say(high, voice))
    else:
        value = say(next(iter(ends.values())), voice)
    known = voice.tongue.known(f"number.{_row(clean(bare))}", value=value)
    return known or voice.say("why.other-number", of=clean(bare.replace("_", " ")), value=value)


def _plain(value: float, voice: Voice) -> str:
    return voice.measures.number(value, 1)


def _hour_said(hour: float, voice: Voice) -> str:
    minutes = round(hour * MINUTES_AN_HOUR) % (HOURS_A_DAY * MINUTES_AN_HOUR)
    return voice.clock(time(*divmod(minutes, MINUTES_AN_HOUR)))


_SAID: Mapping[str, Callable[[float, Voice], str]] = {
    "g": lambda value, voice: voice.measures.mass(value),
    "l": lambda value, voice: voice.measures.water(value),
    "mm": lambda value, voice: voice.measures.rain(value),
    "cm": lambda value, voice: voice.measures.length(value),
    "c": lambda value, voice: voice.measures.temperature(value),
    "days": lambda value, voice: voice.measures.amount("days", value),
    "m2": lambda value, voice: voice.measures.area(value),
    "hour": _hour_said,
}
"""How a number is said whose name ends so."""


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
