"""Every alert says what to do about what is coming, unless a task says it."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.model.brief import AlertCode, Reason, ReasonCode
from strawbell.model.details import DryTopDetail
from strawbell.words.reasons import alert_words, merged_alerts
from strawbell.words.voice import Voice
from support.briefs import (
    TODAY,
    freeze_alert,
    garden,
    held_feeding,
    hot_brief,
    protecting,
)

VOICE = Voice.of(garden(), TODAY)

SAYS = {
    AlertCode.FREEZE: ("Cover the tomatoes and the basil", "empty the hose"),
    AlertCode.FROST: ("Cover the tomatoes and the basil before dark.",),
    AlertCode.HEAVY_RAIN: ("Cover the bales you fed",),
    AlertCode.HOT_DRY: ("not at midday",),
    AlertCode.HEAT_PERSON: ("shade",),
    AlertCode.SELF_HEATING: ("fire service", "keep away"),
    AlertCode.NOT_HEATING: ("warming up inside", "before you feed"),
    AlertCode.NO_FORECAST: ("Look at the sky", "by tomorrow morning"),
    AlertCode.STALE_FORECAST: ("Look at the sky",),
}


@pytest.mark.parametrize("code", AlertCode)
def test_every_alert_has_a_name_and_advice(code: AlertCode) -> None:
    alert = freeze_alert(code=code)
    said = alert_words(alert, VOICE)
    for word in SAYS[code]:
        assert word in said.advice
    bare = alert_words(replace(alert, starts_at=None, ends_at=None, crops=(), reasons=()), VOICE)
    for sentence in (bare.advice, bare.headline):
        for flaw in ("  ", "None", "unknown", " ,", ",,"):
            assert flaw not in sentence


def test_a_hot_day_says_when_the_top_will_be_dry_and_how_much_it_wants() -> None:
    (alert,) = hot_brief().alerts
    assert alert_words(alert, VOICE).advice == (
        "Row C: water the tops early, 2.5 L a bale, twice; not at midday. The top is dry by about "
        "14:30."
    )


def test_an_alert_that_a_task_says_is_not_said_again() -> None:
    """Two waterings of the task and a third of the warning would be one too many."""
    hot = hot_brief()
    assert merged_alerts(hot.alerts, VOICE, hot.tasks) == ()
    dry = [replace(task, water_per_bale_l=None) for task in hot.tasks]
    assert len(merged_alerts(hot.alerts, VOICE, dry)) == 1
    frost = freeze_alert(code=AlertCode.FROST)
    covers = [protecting("tomato"), protecting("basil")]
    assert merged_alerts((frost,), VOICE, covers) == ()


def test_a_crop_that_no_task_covers_is_still_named() -> None:
    frost = freeze_alert(code=AlertCode.FROST)
    (said,) = merged_alerts((frost,), VOICE, [protecting("tomato")])
    assert said.advice == "Cover the basil before dark."


def test_a_freeze_that_a_held_task_empties_the_hose_for_is_said_once() -> None:
    freeze = freeze_alert(crops=())
    assert merged_alerts((freeze,), VOICE, [held_feeding()]) == ()
    assert len(merged_alerts((freeze,), VOICE, [held_feeding(instead=())])) == 1


def test_fire_goes_before_everything() -> None:
    alerts = (freeze_alert(), freeze_alert(code=AlertCode.SELF_HEATING, batch="Row A"))
    assert merged_alerts(alerts, VOICE)[0].code is AlertCode.SELF_HEATING


def test_a_night_that_is_not_known_sends_to_the_thermometer() -> None:
    """The forecast is there, but has no temperature for the night over the plants."""
    alert = freeze_alert(code=AlertCode.NO_FORECAST, batch="Row C", crops=("basil",))
    said = alert_words(alert, VOICE)
    assert said.headline == "No word of tonight's low"
    assert said.advice == (
        "Row C: I don't know tonight's low: look at a thermometer at dusk; if in doubt, cover the "
        "basil."
    )


def test_rows_with_different_crops_are_warned_of_one_night_together() -> None:
    alerts = (freeze_alert(batch="Row A"), freeze_alert(batch="Row C", crops=("bean",)))
    (said,) = merged_alerts(alerts, VOICE)
    assert "the tomatoes, the basil and the beans" in said.advice


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
        assert said.why == ("About -7 °C on the leaves.",)


def test_two_rows_with_different_details_are_warned_apart() -> None:
    (alert,) = hot_brief().alerts
    alerts = (alert, replace(alert, batch="Row A", detail=DryTopDetail(1.0, 1, None)))
    assert len(merged_alerts(alerts, VOICE)) == 2
