"""Every alert says what is coming, when, and what to do about it."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest

from strawbell.model.brief import AlertCode, Instead, Reason, ReasonCode
from strawbell.model.details import DryTopDetail
from strawbell.words.advice import instead_sentences
from strawbell.words.alerts import alert_advice, alert_words, merged_alerts
from strawbell.words.voice import Voice
from support.briefs import TODAY, freeze_alert, garden, hot_brief

VOICE = Voice.of(garden(), TODAY)

SAYS = {
    AlertCode.FREEZE: ("warm hours", "hose", "tomato and basil"),
    AlertCode.FROST: ("Cover tomato and basil before dusk today",),
    AlertCode.HEAVY_RAIN: ("Feed nothing", "At risk: tomato and basil"),
    AlertCode.HOT_DRY: ("not at midday",),
    AlertCode.HEAT_PERSON: ("shade", "medical help"),
    AlertCode.SELF_HEATING: ("fire service", "keep away"),
    AlertCode.NO_FORECAST: ("look at the sky", "12.7 mm", "0 °C"),
    AlertCode.STALE_FORECAST: ("look at the sky",),
}


@pytest.mark.parametrize("code", AlertCode)
def test_every_alert_has_a_title_and_advice(code: AlertCode) -> None:
    alert = freeze_alert(code=code)
    said = alert_words(alert, VOICE)
    assert said.title.endswith("from 02:00 to 08:00 tomorrow")
    for word in SAYS[code]:
        assert word in said.advice
    bare = alert_words(replace(alert, starts_at=None, ends_at=None, crops=(), reasons=()), VOICE)
    for sentence in (bare.title, bare.advice, bare.headline):
        for flaw in ("  ", "None", "unknown", " ,", ",,"):
            assert flaw not in sentence


def test_a_hot_day_says_when_the_top_will_be_dry_and_how_much_it_wants() -> None:
    (alert,) = hot_brief().alerts
    assert alert_advice(alert, VOICE) == (
        "The top surface will be dry by about 14:30. Water the top surface early in the morning: "
        "2.5 L a bale, twice today; not at midday."
    )


def test_a_hot_day_whose_task_says_the_amount_only_says_when() -> None:
    """Two waterings of the task and a third of the warning would be one too many."""
    (alert,) = hot_brief().alerts
    bare = replace(alert, detail=DryTopDetail(None, 1, time(14, 30)))
    assert alert_advice(bare, VOICE) == (
        "The top surface will be dry by about 14:30. Water in the cool of the day, not at midday."
    )


def test_a_night_that_is_not_known_sends_to_the_thermometer() -> None:
    """The forecast is there, but has no temperature for the night over the plants."""
    alert = freeze_alert(code=AlertCode.NO_FORECAST, batch="Row C", crops=("basil",))
    said = alert_words(alert, VOICE)
    assert said.title.startswith("Night not known, Row C")
    assert "Look at a thermometer in the evening, and cover basil when in doubt." in said.advice


def test_two_rows_with_the_same_alert_are_warned_once() -> None:
    alerts = (freeze_alert(batch="Row A"), freeze_alert(batch="Row C"))
    (said,) = merged_alerts(alerts, VOICE)
    assert said.title == "Freeze, Row A and Row C, from 02:00 to 08:00 tomorrow"


def test_rows_with_different_crops_are_warned_of_one_night_together() -> None:
    alerts = (freeze_alert(batch="Row A"), freeze_alert(batch="Row C", crops=("bean",)))
    (said,) = merged_alerts(alerts, VOICE)
    assert "tomato, basil and bean" in said.advice


def test_one_night_is_explained_once_by_the_crop_that_is_covered_first() -> None:
    """A second sentence that differs in its limit alone tells a grower nothing to do."""
    alerts = tuple(
        freeze_alert(
            code=AlertCode.FROST,
            batch=batch,
            reasons=(Reason(ReasonCode.FROST, -6.6, limit_c, "degC"),),
        )
        for batch, limit_c in (("Row A", -2.2), ("Row C", 0.6))
    )
    for order in (alerts, alerts[::-1]):
        (said,) = merged_alerts(order, VOICE)
        (why,) = said.why
        assert why.endswith("leaves may cool to -6.6 °C; at or under 0.6 °C they are hurt.")


def test_bales_that_are_to_be_covered_are_not_left_to_the_rain() -> None:
    """What is said beside a held feeding must not contradict the warning below it."""
    said = alert_words(freeze_alert(code=AlertCode.HEAVY_RAIN), VOICE)
    (instead,) = instead_sentences((Instead.LEAVE_TO_RAIN,), VOICE)
    assert "Cover bales" in said.advice
    assert "leave the bales to the rain" not in instead.lower()
    assert "no water" in instead


def test_two_rows_with_different_details_are_warned_apart() -> None:
    (alert,) = hot_brief().alerts
    alerts = (alert, replace(alert, batch="Row A", detail=DryTopDetail(1.0, 1, None)))
    assert len(merged_alerts(alerts, VOICE)) == 2
