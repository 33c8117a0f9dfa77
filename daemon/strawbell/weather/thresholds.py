"""The defaults of the judgement, each with its source; the grower may set every one.

References:
[1] Ohio State University Extension, ANR-0156, "Fertilizer and manure application rules in the
    western Lake Erie basin": manure is held when more than 50 % chance of more than 0.5 in
    within 24 h is forecast; granular fertiliser at 1 in within 12 h. The stricter one is taken,
    since a bale has no soil below it to catch what is washed out.
[2] NWS practice: freeze at or under 32 F (0 C), frost advisory at 33 to 36 F.
[3] NRCS Conservation Practice Standard 590 (2019): no nutrients on frozen ground (from memory).
[4] University of Minnesota and other extensions: water by hand below about 0.1 in of rain a
    day (common practice).
[5] WSU Extension FS109E: plant at or under 99 F; Kansas State Research and Extension: under
    100 F. 37.5 C lies between the two.
[6] Cornell Waste Management Institute, compost physics: keep a pile under 65 C.
"""

from __future__ import annotations

from strawbell.model.garden import Rules

RAIN_HOLD_MM = 12.7
"""Rain in the look-ahead that holds a feeding: 0.5 in [1]."""
RAIN_HOLD_CHANCE_PERCENT = 50.0
"""Chance of rain that has to go with it [1]."""
RAIN_LOOK_AHEAD_H = 24.0
"""How far a feeding looks ahead for rain [1]."""
FREEZE_HOLD_C = 0.0
"""Air temperature ahead at or under which a feeding is postponed [2] [3]."""
FREEZE_LOOK_AHEAD_H = 24.0
"""How far a feeding looks ahead for a freeze (as the rain rule)."""
FROST_LOOK_AHEAD_H = 36.0
"""How far planted batches are watched for frost: advisories go out 12 to 36 h ahead [2]."""
HOT_DAY_C = 30.0
"""Highest temperature from which a day counts as hot (86 F, common practice)."""
DRY_DAY_MM = 2.5
"""Rain under which a day counts as dry: 0.1 in [4]."""
FREEZE_HOLD_CHANCE_PERCENT = 50.0
"""Chance of a freeze from which it counts: as likely as not (as the rain rule) [1]."""
CHANGE_OF_MIND_PERCENT = 10.0
"""By how much a chance must fall before a hold that was told is taken back (design choice: the
forecast of tomorrow is revised by about that much from one issue to the next)."""
STALE_AFTER_H = 12.0
"""Age from which a forecast is no longer decided on: services issue one at least every 6 h."""
ASK_AFTER_HELD_DAYS = 7
"""Days of holding after which the grower is asked to decide (common practice)."""
PLANT_BELOW_C = 37.5
"""Core temperature under which roots are safe [5]."""
SELF_HEATING_C = 65.0
"""Core temperature from which the caution of self-heating is given [6]."""

DEFAULT_RULES = Rules(
    rain_hold_mm=RAIN_HOLD_MM,
    rain_hold_chance_percent=RAIN_HOLD_CHANCE_PERCENT,
    rain_look_ahead_h=RAIN_LOOK_AHEAD_H,
    freeze_hold_c=FREEZE_HOLD_C,
    freeze_look_ahead_h=FREEZE_LOOK_AHEAD_H,
    hot_day_c=HOT_DAY_C,
    dry_day_mm=DRY_DAY_MM,
    frost_look_ahead_h=FROST_LOOK_AHEAD_H,
    stale_after_h=STALE_AFTER_H,
    ask_after_held_days=ASK_AFTER_HELD_DAYS,
    plant_below_c=PLANT_BELOW_C,
    self_heating_c=SELF_HEATING_C,
)
"""The rules a garden has when its grower sets none."""
