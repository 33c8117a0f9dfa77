"""Names that somebody may give a thing, on purpose or not, and every notice that holds them."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from msgspec.structs import replace

from strawbell.model.brief import Action, AlertCode, AlertKey, Brief, TaskKey
from strawbell.model.feeds import Need, Supply
from strawbell.model.notice import Notice, Useful
from strawbell.words import notices
from strawbell.words.shopping import supply_sentence
from support.briefs import (
    TODAY,
    brief,
    catch_up_brief,
    dose,
    feeding,
    freeze_alert,
    fresh_use,
    garden,
    held_feeding,
    protecting,
)

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
USEFUL = Useful(NOW, NOW + timedelta(hours=12))
STEERING = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)

HOSTILE = (
    "{{7*7}}",
    "{% raw %}{{ config }}{% endraw %}",
    "{# gone #}",
    "{{ ''.__class__.__mro__ }}",
    "{0.__class__}",
    "{what}{where}",
    "{}",
    "%(x)s %s %d %n",
    "$HOME ${HOME} $(id)",
    "`id`",
    "; rm -rf /",
    "'; DROP TABLE journal; --",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "<a href='javascript:alert(1)'>x</a>",
    "</td></table><h1>x</h1>",
    "</title></style><script>x</script>",
    "<!-- x",
    "]]>",
    "&lt;b&gt; &amp; &#60;",
    '" onclick="x" \'',
    "<b>bold</b>",
    "\x1b[31mred\x1b[0m",
    "\x1b]0;title\x07",
    "\x9b31m",
    "\x00nul",
    "a\r\nBcc: x@example.org",
    "a\nSubject: x",
    "a\u2028b\u2029c\x85d",
    "\u202eesrever",
    "\u2066isolate\u2069",
    "\u200fmark\u200e",
    "\ud800half",
    "=?utf-8?q?x=0d=0aBcc=3a?=",
    "file:///etc/passwd",
    "🌱👩‍🌾🇨🇭",
    "大根" * 20,
    "e" + "\u0301" * 500,
    "x" * 10_240,
    "<script>" * 1_280,
)


def everything_called(name: str) -> Brief:
    """Return a brief in which everything that has a name has this one."""
    made, key = catch_up_brief(), TaskKey(name, Action.FEED, day=5)
    question = replace(made.questions[0], key=key, batch=name)
    outlook = replace(made.outlooks[0], batch=name)
    return brief(
        feeding(name, dose=dose(feed=name), note=name, key=key),
        held_feeding(f"2{name}", crops=(name,)),
        protecting(name, batch=name),
        garden=name,
        alerts=(freeze_alert(batch=name, crops=(name,)),),
        questions=(question,),
        outlooks=(outlook,),
        forecast=fresh_use(source=name, attribution=name, attribution_url=name),
    )


def all_notices(name: str) -> tuple[Notice, ...]:
    """Return every kind of notice about a garden in which everything has this name."""
    made, place = everything_called(name), garden(name=name)
    need = Need(Supply.FEED, name, 1.2, None, None, None, None, None, TODAY, TODAY)
    supplies = (supply_sentence(need, place, TODAY),)
    passed = AlertKey(AlertCode.FROST, name)
    return (
        notices.morning_notice(made, place, USEFUL, (name,), supplies=supplies),
        notices.change_notice(
            made,
            place,
            made.tasks,
            made.alerts,
            (passed,),
            "14:05",
            USEFUL,
        ),
        notices.evening_notice(made, place, made.alerts, made.tasks, USEFUL),
        notices.all_clear_notice(place, made, USEFUL),
        notices.trouble_notice(place, TODAY, name, (name,), USEFUL),
        notices.test_notice(place, TODAY, "1", USEFUL),
    )
