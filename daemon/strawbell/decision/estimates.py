"""What is computed for a batch today beside its tasks: core, progress, readiness, dry top.

The weather of past days is what the briefs of those mornings said of their day; without one a
day is unknown and widens every range. All of it is for today: the days ahead read their own date
out of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from math import ceil

from msgspec import Struct
from msgspec.structs import replace

from strawbell.agronomy.bales import top_area_m2
from strawbell.agronomy.ensemble import (
    MILD_DAYS_NEEDED,
    conditioned_days,
    core_band,
    held_l,
    spent_g,
)
from strawbell.agronomy.ensemble import (
    Band as EnsembleBand,
)
from strawbell.agronomy.readiness import (
    CoreDay,
    CoreOutlook,
    EffectiveDays,
    Progress,
    Readiness,
    Reading,
    Span,
    readiness,
)
from strawbell.agronomy.surface import (
    SurfaceHour,
    SurfaceLayer,
    SurfaceOutlook,
    potting_mix_layer,
    seed_bed_layer,
    surface_hours,
    surface_outlook,
)
from strawbell.decision.daily_weather import DailyWeather
from strawbell.model.brief import Action, BatchOutlook, FeedSeries
from strawbell.model.details import (
    Band,
    BatchStage,
    ConditioningEstimate,
    CoreEstimate,
    MakeUpEstimate,
    NitrogenEstimate,
)
from strawbell.model.feeds import Dose
from strawbell.model.garden import Batch, Garden, Method, ScheduleDay, slug
from strawbell.season.aftercare import canopy_of
from strawbell.season.bale_course import (
    FOLLOWED_DAYS,
    Course,
    Ledger,
    ledger_of,
    next_course,
    planned_work,
)
from strawbell.season.conditioning import front, is_feeding, planned_steps, step_key
from strawbell.season.fold import FoldCache, course_at
from strawbell.season.journal_index import DayLog, JournalIndex
from strawbell.season.local_time import DAY
from strawbell.season.stage import (
    FIRST_WEEKS_DAYS,
    BatchState,
    Day,
    dated_key,
    planted_on,
)
from strawbell.weather.windows import hours_between

CORE_DAYS_AHEAD = 7
"""How many days of core temperature are shown: as far as the air is forecast."""
HORIZON_DAYS = 120
"""Beyond this nothing is foretold [d]; the answer is unknown."""
HEATS_DAYS = 60
"""A bale wetted longer ago has cooled, and nothing is foretold of its core [d] (six weeks is the
longest conditioning published, Montana State University Extension)."""
LEAST_EXCESS_K = 1.0
"""A core that never gets warmer over the air than this has not heated [K] (design choice)."""
READING_HOLDS_DAYS = 7
"""Days for which a band is said to rest on a reading (design choice)."""
SURFACE_LOOK_BACK = timedelta(hours=12)
SURFACE_LOOK_AHEAD = timedelta(hours=36)
"""Hours of the forecast that decide about the top of a bale today: the advice looks a day ahead."""


class BatchEstimate(Struct, frozen=True):
    """What is computed for one batch; any part is None where it cannot be."""

    stage: BatchStage
    core: CoreOutlook | None = None
    progress: Progress | None = None
    readiness: Readiness | None = None
    surface: SurfaceOutlook | None = None

    def core_on(self, on: date) -> CoreDay | None:
        """Return the core temperature expected on a date, None past the outlook."""
        if self.core is None:
            return None
        return next((day for day in self.core.days if day.on == on), None)


class TarpOutlook(Struct, frozen=True):
    """What a tarp keeps through the first day, the first two and so on [g N], and feedings then."""

    kept_g: tuple[float, ...]
    feedings: tuple[int, ...]


NOTHING_KNOWN = BatchEstimate(BatchStage.NOT_BEGUN)
"""Of a batch that has not been soaked yet."""


class Estimates:
    """The estimates for a garden at one moment, each computed once and only when asked for."""

    def __init__(
        self,
        garden: Garden,
        index: JournalIndex,
        daily: DailyWeather,
        folds: FoldCache | None = None,
    ) -> None:
        """Keep what they are computed from: the moment is that of the weather."""
        self.garden = garden
        self.index = index
        self.folds = FoldCache() if folds is None else folds
        self.daily = daily
        self._now = daily.now.astimezone(daily.zone)
        self._known: dict[str, BatchEstimate] = {}
        self._days: dict[str, Day] = {}
        self._bales: dict[
            tuple[str, bool | None], tuple[dict[date, Course], Iterator[tuple[date, Course]]]
        ] = {}
        self._lines: dict[str, Mapping[date, ScheduleDay]] = {}
        self._top_hours: tuple[SurfaceHour, ...] | None = None

    def begin(self, days: Iterable[Day]) -> None:
        """Take where the batches stand today; a batch that has not begun has no estimate."""
        self._days = {day.batch.name: day for day in days}

    def of(self, batch: Batch) -> BatchEstimate:
        """Return the estimate for a batch as it stands today."""
        if batch.name not in self._known:
            day = self._days.get(batch.name)
            self._known[batch.name] = NOTHING_KNOWN if day is None else self._look_into(day)
        return self._known[batch.name]

    def held_l(self, batch: Batch, on: date) -> float | None:
        """Return the water a bale is expected to hold on the morning of a date [L].

        None before its first soaking, and further ahead than the weather is forecast.
        """
        course = self._courses(batch, on).get(on)
        return None if course is None else held_l(course.draws)

    def _courses(
        self, batch: Batch, last: date, covered: bool | None = None
    ) -> Mapping[date, Course]:
        """Return a bale at the beginning of today and of the days to the last, done as planned.

        A tarp stays as it is, but for heat, unless the bale is to be `covered`, or not.
        """
        name = batch.name, covered
        if name not in self._bales:
            day = self._days.get(batch.name)
            self._bales[name] = {}, iter(()) if day is None else self._walk_on(day, covered)
        known, walk = self._bales[name]
        if last not in known:
            for on, course in walk:
                known[on] = course
                if on >= last:
                    break
        return known

    def _steps(self, batch: Batch, state: BatchState) -> Mapping[date, ScheduleDay]:
        if batch.name not in self._lines:
            waits = bool(state.sequence.questions)
            line = {} if waits else dict(planned_steps(batch, state, self.daily.today))
            self._lines[batch.name] = line
        return self._lines[batch.name]

    def _walk_on(self, day: Day, covered: bool | None) -> Iterator[tuple[date, Course]]:
        if (day.on - day.batch.start_on).days > FOLLOWED_DAYS:
            return
        course = self._course_at(day)
        stays = day.state.tarped if covered is None else covered
        for on in _dates(day.on, day.on + DAY * (CORE_DAYS_AHEAD + 2)):
            yield on, course
            course = self._after(day, course, self.index.day(day.batch, on), stays=stays)

    def _after(self, day: Day, course: Course, log: DayLog, *, stays: bool) -> Course:
        """Return a bale after a date from today on, done as planned, with what the log has of it.

        `stays` is whether a tarp lies over it, but for heat.
        """
        batch, state, on = day.batch, day.state, log.on
        conditions = self.daily.on(on)
        under = stays and not conditions.hot.reached
        rain_mm = 0.0 if under else conditions.counted_rain_mm
        first = on == day.on and not state.sequence.soaked
        step = self._steps(batch, state).get(on)
        work = planned_work(batch, step, course, rain_mm, first=first)._replace(covered=under)
        place, leaves = self.garden.place, canopy_of(batch, state, on)
        return next_course(course, batch, log, conditions.weather, work, place, leaves)

    def tarp_outlook(self, batch: Batch, on: date) -> TarpOutlook:
        """Return what a tarp would keep in a bale from a date on, as far as rain is forecast."""
        day = self._days.get(batch.name)
        if day is None or not day.state.sequence.given:
            return TarpOutlook((), ())
        last = self.daily.today + DAY * (CORE_DAYS_AHEAD + 1)
        bare, under = (self._courses(batch, last, covered) for covered in (False, True))
        dates = [each for each in bare if each > on] if on in bare else []
        fed_on = [each for each, step in self._steps(batch, day.state).items() if is_feeding(step)]
        return TarpOutlook(
            tuple(
                bare[each].washed_g[-1]
                - bare[on].washed_g[-1]
                - under[each].washed_g[-1]
                + under[on].washed_g[-1]
                for each in dates
            ),
            tuple(sum(on < fed < each for fed in fed_on) for each in dates),
        )

    def core_if_read_c(self, batch: Batch, reading_c: float) -> float | None:
        """Return the low end of tonight's core if a probe showed so much now [degC]."""
        day = self._days.get(batch.name)
        course = None if day is None else self._courses(batch, day.on).get(day.on)
        if day is None or course is None:
            return None
        log = self.index.day(batch, day.on)
        log = replace(log, readings=(*log.readings, Reading(self._now, reading_c)))
        night = self._after(day, course, log, stays=day.state.tarped)
        return core_band(night.draws, (night.low_c + night.high_c) / 2.0, 0.0).low

    def course(self, batch: Batch) -> Course | None:
        """Return a bale on the morning of today, None once it is not followed, or planted."""
        day = self._days.get(batch.name)
        if day is None or any(planted_on(batch, day.state, each) for each in batch.plantings):
            return None
        return self._courses(batch, day.on).get(day.on)

    def _course_at(self, day: Day) -> Course:
        place = self.garden.place
        return course_at(day.batch, day.state, self.index, day.on, place, self.folds)

    def spent_g(self, batch: Batch, on: date) -> EnsembleBand | None:
        """Return the nitrogen that a spent bale carries on a date, None where it is unknown [g]."""
        course = self._courses(batch, on).get(on)
        return None if course is None else spent_g(course.draws)

    def ledger_of(self, batch: Batch) -> Ledger | None:
        """Return the nitrogen ledger of a batch as it stands today; nothing is decided by it."""
        day = self._days.get(batch.name)
        if day is None:
            return None
        course = self._courses(batch, day.on).get(day.on) or self._course_at(day)
        return ledger_of(batch, day.state, day.log, self.garden.rules.rain_hold_mm, course)

    def _look_into(self, day: Day) -> BatchEstimate:
        batch, state = day.batch, day.state
        planted = any(planted_on(batch, state, each) for each in batch.plantings)
        conditioning = front(state.sequence, batch) is not None
        surface = self._surface(day)
        if planted:
            return BatchEstimate(BatchStage.GROWING, surface=surface)
        stage = BatchStage.CONDITIONING if conditioning else BatchStage.RESTING
        if (self.daily.today - batch.start_on).days > HEATS_DAYS:
            return BatchEstimate(stage, surface=surface)
        core = self._core(batch)
        progress = self._progress(batch)
        ready = readiness(
            progress,
            core,
            day.log.readings,
            self._now,
            plan_day=_plan_day(batch, state, self.daily.today),
            plant_from_day=batch.schedule.plant_from_day,
            plant_below_c=self.garden.rules.plant_below_c,
            self_heating_c=self.garden.rules.self_heating_c,
        )
        return BatchEstimate(stage, core, progress, ready, surface)

    def _foreseen(self, batch: Batch) -> Mapping[date, Course]:
        """Return a bale from today on as far as it is shown, none where nothing is forecast."""
        courses = self._courses(batch, self.daily.today + DAY * (CORE_DAYS_AHEAD + 1))
        known = any(self.daily.on(on).weather.complete for on in courses)
        return courses if known and self.daily.today in courses else {}

    def _core(self, batch: Batch) -> CoreOutlook | None:
        """Return the core from today on, each day as its night will find it."""
        courses, today = self._foreseen(batch), self.daily.today
        if not courses:
            return None
        days = []
        for on in list(courses)[:-1]:
            night = courses[on + DAY]
            ago = None if night.read_on is None else float((on - night.read_on).days)
            band = core_band(night.draws, (night.low_c + night.high_c) / 2.0, ago)
            days.append(CoreDay(on, band.low, band.mean, band.high))
        last = courses[days[-1].on + DAY]
        excess_k, warmest_on = last.warmest
        rising = excess_k < LEAST_EXCESS_K or warmest_on == days[-1].on
        read_on = courses[today + DAY].read_on
        return CoreOutlook(
            days=tuple(days),
            from_readings=read_on is not None and (today - read_on).days <= READING_HOLDS_DAYS,
            peak_on=None if rising else warmest_on,
        )

    def _progress(self, batch: Batch) -> Progress | None:
        """Return how far a bale is conditioned, and in how many days it will be.

        Past the days that are forecast it goes on as in the last of them.
        """
        courses = self._foreseen(batch)
        if not courses:
            return None
        bands = [conditioned_days(course.draws) for course in courses.values()]
        low, expected, high = (_days_to_go([band[end] for band in bands]) for end in (2, 1, 0))
        done = EffectiveDays(bands[0].low, bands[0].high)
        soonest = HORIZON_DAYS if low is None else low
        return Progress(done, MILD_DAYS_NEEDED, Span(soonest, expected, high))

    def sown(self, batch: Batch) -> SurfaceOutlook | None:
        """Return what a bed that is sown and watered in now needs in the coming day."""
        layer = seed_bed_layer(1.0 if batch.mulched else 0.0)
        return self._outlook(batch, layer, self._now)

    def _surface(self, day: Day) -> SurfaceOutlook | None:
        if not day.standing:
            return None
        batch = day.batch
        mulch_share = 1.0 if batch.mulched else 0.0
        if any(
            each.method is Method.SEED and (day.on - since).days <= FIRST_WEEKS_DAYS
            for each, since in day.standing
        ):
            layer = seed_bed_layer(mulch_share)
        else:
            layer = potting_mix_layer(self.garden.mix_layer_cm, mulch_share)
        return self._outlook(batch, layer, self._watered_at(batch))

    def _outlook(
        self, batch: Batch, layer: SurfaceLayer, filled_at: datetime | None
    ) -> SurfaceOutlook | None:
        forecast = self.daily.trusted
        if forecast is None:
            return None
        if self._top_hours is None:
            hours = hours_between(
                forecast.hours, self._now - SURFACE_LOOK_BACK, self._now + SURFACE_LOOK_AHEAD
            )
            place, height_m = self.garden.place, forecast.wind_height_m
            self._top_hours = surface_hours(hours, place, height_m)
        top_m2 = top_area_m2(batch.bale)
        return surface_outlook(self._top_hours, layer, top_m2, self._now, filled_at)

    def _watered_at(self, batch: Batch) -> datetime | None:
        """Return when the grower last recorded as watered, which filled the top up.

        Feedings count too: they are washed in.
        """
        since, today = self._now - SURFACE_LOOK_BACK, self.daily.today
        words = {
            word.key: word
            for on in (today - DAY, today)
            for word in self.index.answered_on.get(on, ())
        }
        if not words:
            return None
        keys = {step_key(batch, step) for step in batch.schedule.days}
        keys |= {
            dated_key(batch.name, action, on)
            for action in (Action.WATER, Action.SURFACE_WATER)
            for on in (today - DAY, today)
        }
        own = slug(batch.name)
        keys |= {each for each in words if each.series is FeedSeries.SEASON and each.batch == own}
        return max(
            (
                word.at
                for key, word in words.items()
                if key in keys and word.done and since <= word.at <= self._now
            ),
            default=None,
        )


def outlook_of(batch: Batch, estimates: Estimates) -> BatchOutlook:
    """Return what is known of a batch, for showing and keeping."""
    estimate, ledger = estimates.of(batch), estimates.ledger_of(batch)
    ready = estimate.readiness
    return BatchOutlook(
        batch.name,
        estimate.stage,
        conditioning=_conditioning(estimate.progress),
        core=_core_today(estimate.core),
        nitrogen=_nitrogen(ledger),
        make_up=None if ledger is None or ledger.make_up is None else _make_up(ledger.make_up),
        evaporation_mm=estimate.surface.et_mm_today if estimate.surface else None,
        ready_on=ready.first_safe_on if ready else None,
        ready_on_latest=ready.latest_on if ready else None,
    )


def _conditioning(progress: Progress | None) -> ConditioningEstimate | None:
    if progress is None:
        return None
    done, to_go = progress.done, progress.to_go
    return ConditioningEstimate(
        Band(round(done.low, 1), round(done.high, 1)), Band(to_go.low, to_go.high)
    )


def _core_today(core: CoreOutlook | None) -> CoreEstimate | None:
    if core is None or not core.days:
        return None
    today = core.days[0]
    low_c, expected_c, high_c = (
        round(value_c, 1) for value_c in (today.low_c, today.expected_c, today.high_c)
    )
    return CoreEstimate(low_c, expected_c, high_c, core.from_readings)


def _nitrogen(ledger: Ledger | None) -> NitrogenEstimate | None:
    if ledger is None:
        return None
    now = ledger.carbon_to_nitrogen
    return NitrogenEstimate(
        given_g=round(ledger.given_g, 1),
        planned_g=round(ledger.planned_g, 1),
        lost_g=Band(round(ledger.lost_g.low, 1), round(ledger.lost_g.high, 1)),
        carbon_to_nitrogen=Band(round(now.low, 0), round(now.high, 0)),
        unknown_rain_days=ledger.unknown_rain_days,
    )


def _make_up(dose: Dose) -> MakeUpEstimate:
    return MakeUpEstimate(round(dose.nitrogen_per_bale_g, 1), round(dose.per_bale_g, 1))


def _plan_day(batch: Batch, state: BatchState, on: date) -> int:
    """Return the day of the sequence, counted on past its end."""
    step = front(state.sequence, batch)
    if step is not None:
        return step.day
    finished = state.sequence.finished_on
    return batch.schedule.days[-1].day + ((on - finished).days if finished else 0)


def _days_to_go(done: Sequence[float]) -> int | None:
    """Return in how many days conditioning is complete, None beyond what can be foreseen."""
    for ahead, days in enumerate(done):
        if days >= MILD_DAYS_NEEDED:
            return ahead
    a_day = done[-1] - done[-2]
    if a_day <= 0.0:
        return None
    ahead = len(done) - 1 + ceil((MILD_DAYS_NEEDED - done[-1]) / a_day)
    return ahead if ahead <= HORIZON_DAYS else None


def _dates(first: date, end: date) -> Sequence[date]:
    return [date.fromordinal(day) for day in range(first.toordinal(), end.toordinal())]
