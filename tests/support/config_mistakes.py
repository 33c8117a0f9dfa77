"""A sound configuration and the fifty mistakes growers make in one, as data.

The list follows the usual sources of trouble with configuration files: the file itself, keys,
types, values, mail, and the plan.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

TODAY = date(2027, 3, 1)
"""The day on which the configuration below is read."""
SECRET = "pea-blossom-7319"
"""The password in the configuration below; it must never be seen in a message."""

SOUND = f"""\
units = "metric"

[[gardens]]
name = "Mill lane"
latitude = 47.05
longitude = 8.31
time_zone = "Europe/Zurich"
elevation_m = 440

[[gardens.batches]]
name = "Long row"
bales = 6
bale = "two-string"
start_on = 2027-04-05
schedule = "alternate-days"
feed = "Shelf meal"
weathered = false

[[gardens.batches.plantings]]
crop = "kale"
plants = 8
method = "transplant"

[[gardens.batches]]
name = "Short row"
bales = 2
start_on = 2027-04-20

[[feeds]]
name = "Shelf meal"
label = "12-0-0"
form = "dry"
density_kg_per_l = 0.6
package_kg = 1.5

[[crops]]
name = "paste tomato"
like = "tomato"
cover_at_c = 2.0
days_to_maturity = [70, 85]

[rules]
rain_hold_mm = 12.7
freeze_hold_c = 0.0
hot_day_c = 30.0

[times]
morning = 06:30:00
evening = 18:30:00
watch_every_min = 60
give_up = 20:00:00

[weather]
sources = ["open-meteo", "met-norway"]
contact = "grower@example.org"
stale_after_h = 12

[email]
host = "smtp.example.org"
port = 587
security = "starttls"
username = "grower"
password = "{SECRET}"
sender = "strawbell@example.org"
recipients = ["grower@example.org"]

[desktop]
enabled = false
"""


@dataclass(frozen=True)
class Slip:
    """One mistake: what replaces what, and what has to be told about it.

    `what` and `where` must stand in one problem; `found`, `allowed` and `remedy` in the same.
    `excludes` names areas of the file: two slips that share one cannot be made independently.
    """

    number: int
    name: str
    old: str
    new: str
    what: str
    where: str
    found: str = ""
    allowed: str = ""
    remedy: str = ""
    warning: bool = False
    excludes: tuple[str, ...] = ()

    def make(self, text: str) -> str:
        """Return the text with this mistake in it."""
        assert text.count(self.old) == 1, (self.name, text.count(self.old))
        return text.replace(self.old, self.new)


GARDEN = '[[gardens]] "Mill lane"'
BATCH = f'{GARDEN}, [[gardens.batches]] "Long row"'
PLANTING = f'{BATCH}, [[gardens.batches.plantings]] "kale"'

SLIPS: tuple[Slip, ...] = (
    # File: 10 (the other mistakes with the file itself are in test_config_mistakes).
    Slip(10, "open quote", 'security = "starttls"', 'security = "starttls',
         "quote is not closed", "[email] security", '"starttls', '"tls"', "Close the quote",
         excludes=("security",)),
    Slip(10, "open bracket", 'sources = ["open-meteo", "met-norway"]',
         'sources = ["open-meteo", "met-norway"', "bracket is not closed", "[weather] sources",
         '["open-meteo"', "open-meteo", excludes=("sources", "contact")),
    Slip(10, "table twice", "[desktop]\n", "[times]\nmorning = 07:00:00\n\n[desktop]\n",
         "stands twice", "[times]", "twice", "once", "under one header"),
    # Keys: 11 to 18.
    Slip(11, "typo in a key", "elevation_m =", "elevaton_m =", "no such key",
         f"{GARDEN}, elevaton_m", "elevaton_m", remedy="Did you mean elevation_m?"),
    Slip(12, "typo in a section", "[desktop]", "[dekstop]", "no such section", "dekstop",
         "dekstop", remedy="Did you mean [desktop]?", excludes=("desktop",)),
    Slip(13, "key in the wrong section", "stale_after_h = 12\n",
         "stale_after_h = 12\nquiet_from = 22:00:00\n", "no such key", "[weather] quiet_from",
         "quiet_from", remedy="It belongs in [times]."),
    Slip(13, "key of the top after a header", "elevation_m = 440\n",
         'elevation_m = 440\nfolder = { path = "x" }\n', "no such section", "folder",
         "folder", remedy="at the top of the file", excludes=("folder",)),
    Slip(14, "unknown section", "[rules]", "[irrigation]\nzone_count = 3\n\n[rules]",
         "no such section", "irrigation", "irrigation", "weather", "Remove it"),
    Slip(15, "key twice", "bales = 6\n", "bales = 6\nbales = 7\n", "stands twice",
         f"{BATCH}, bales", "twice", "once", "The first is on line", excludes=("bales",)),
    Slip(16, "missing key", 'host = "smtp.example.org"\n', "", "host is missing", "[email] host",
         "nothing", "text in quotes", "smtp.example.org", excludes=("host",)),
    Slip(17, "key of a newer version", "enabled = false", "enabled = false\nripple_tone = 3",
         "no such key", "[desktop] ripple_tone", "ripple_tone", "enabled", "update Strawbell",
         excludes=("desktop",)),
    Slip(18, "key with a successor", 'username = "grower"', 'user = "grower"', "no such key",
         "[email] user", "user", remedy="It is called username here.", excludes=("username",)),
    # Types: 19 to 27.
    Slip(19, "number as text", "longitude = 8.31", 'longitude = "8.31"', "wrong kind",
         f"{GARDEN}, longitude", '"8.31"', "number from -180 to 180", "Remove the quotes: 8.31",
         excludes=("longitude",)),
    Slip(20, "text as number", 'contact = "grower@example.org"', "contact = 12", "wrong kind",
         "[weather] contact", "12", "text in quotes", 'Put it in quotes: "12"',
         excludes=("contact",)),
    Slip(21, "list for one", 'sender = "strawbell@example.org"',
         'sender = ["strawbell@example.org"]', "wrong kind", "[email] sender",
         '["strawbell@example.org"]', "text in quotes", "no brackets", excludes=("sender",)),
    Slip(22, "one for a list", 'recipients = ["grower@example.org"]',
         'recipients = "grower@example.org"', "wrong kind", "[email] recipients",
         '"grower@example.org"', "list of texts", 'Put it in brackets: ["grower@example.org"]',
         excludes=("recipients",)),
    Slip(23, "switch as yes", "weathered = false", 'weathered = "yes"', "wrong kind",
         f"{BATCH}, weathered", '"yes"', "true or false", "Write true"),
    Slip(24, "part of a whole", "bales = 2\n", "bales = 2.5\n", "wrong kind",
         '"Short row", bales', "2.5", "whole number", "Write 2 or 3"),
    Slip(25, "not a number", "rain_hold_mm = 12.7", "rain_hold_mm = nan", "not a finite number",
         "[rules] rain_hold_mm", "nan", "number", excludes=("rain_hold_mm",)),
    Slip(25, "infinite", "freeze_hold_c = 0.0", "freeze_hold_c = inf", "not a finite number",
         "[rules] freeze_hold_c", "inf", "number", excludes=("freeze_hold_c",)),
    Slip(26, "negative", "package_kg = 1.5", "package_kg = -1.5", "out of range",
         '[[feeds]] "Shelf meal", package_kg', "-1.5", "above 0"),
    Slip(27, "huge", "plants = 8", "plants = 80000000000", "out of range", f"{PLANTING}, plants",
         "80000000000", "1 to 10000", excludes=("plants",)),
    # Values: 28 to 38.
    Slip(28, "latitude 91", "latitude = 47.05", "latitude = 91", "out of range",
         f"{GARDEN}, latitude", "91", "-90 to 90", excludes=("latitude",)),
    Slip(29, "coordinates swapped", "latitude = 47.05\nlongitude = 8.31",
         "latitude = 8.31\nlongitude = 47.05", "look swapped", f"{GARDEN}, latitude",
         "8.31 north, 47.05 east", "degrees north", "latitude = 47.05", warning=True,
         excludes=("latitude", "longitude", "time_zone")),
    Slip(30, "unknown time zone", '"Europe/Zurich"', '"Europe/Zurick"', "no such time zone",
         f"{GARDEN}, time_zone", "Europe/Zurick", "tz database",
         'Did you mean "Europe/Zurich"?', excludes=("time_zone",)),
    Slip(31, "zone abbreviation", '"Europe/Zurich"', '"CET"', "abbreviation",
         f"{GARDEN}, time_zone", "CET", "tz database", excludes=("time_zone",)),
    Slip(32, "time 24:00", "give_up = 20:00:00", "give_up = 24:00:00", "",
         "[times] give_up", "24:00:00", "06:30:00", "00:00:00 to 23:59:59",
         excludes=("give_up",)),
    Slip(32, "time 7am", "morning = 06:30:00", "morning = 7am", "", "[times] morning", "7am",
         "06:30:00", "Write 07:00:00", excludes=("morning",)),
    Slip(33, "30 February", "start_on = 2027-04-05", "start_on = 2027-02-30",
         "no such date", f"{BATCH}, start_on", "2027-02-30", "year-month-day",
         "no such day in the calendar", excludes=("start_on",)),
    Slip(34, "date with slashes", "start_on = 2027-04-20", 'start_on = "04/20/2027"',
         "wrong kind", '"Short row", start_on', '"04/20/2027"', "year-month-day",
         "Write year-month-day", excludes=("start_on 2",)),
    Slip(35, "start after end", "start_on = 2027-04-20",
         "start_on = 2027-04-20\nplant_on = 2027-04-01", "start_on is after plant_on",
         '"Short row", plant_on', "plant_on = 2027-04-01", "one of the two", "Remove one",
         excludes=("start_on 2",)),
    Slip(35, "given up before the morning", "give_up = 20:00:00", "give_up = 05:00:00",
         "give_up is not after morning", "[times] give_up", "give_up = 05:00:00",
         "later in the day", excludes=("give_up", "morning")),
    Slip(36, "low above high", "days_to_maturity = [70, 85]", "days_to_maturity = [85, 70]",
         "above the second", '[[crops]] "paste tomato", days_to_maturity', "[85, 70]",
         "lower number first", "Write [70, 85]"),
    Slip(36, "freeze above heat", "hot_day_c = 30.0", "hot_day_c = 90", "out of range",
         "[rules] hot_day_c", "90", "15 to 50", "Fahrenheit, write 32.2",
         excludes=("hot_day_c",)),
    Slip(37, "inches for mm", "rain_hold_mm = 12.7", "rain_hold_mm = 0.5", "looks like inches",
         "[rules] rain_hold_mm", "0.5", "millimetres", "write 12.7", warning=True,
         excludes=("rain_hold_mm",)),
    Slip(38, "interval 0", "watch_every_min = 60", "watch_every_min = 0", "out of range",
         "[times] watch_every_min", "0", "15 to 720"),
    # Mail: 39 to 45.
    Slip(39, "address without @", 'sender = "strawbell@example.org"',
         'sender = "strawbell.example.org"', "not a mail address", "[email] sender",
         "strawbell.example.org", "grower@example.org", "The @ is missing",
         excludes=("sender",)),
    Slip(40, "address with a line break", 'recipients = ["grower@example.org"]',
         'recipients = ["grower@example.org\\nBcc: x@example.org"]', "not a plain mail address",
         "[email] recipients", "grower@example.org", "grower@example.org",
         excludes=("recipients",)),
    Slip(40, "address with an encoded word", 'recipients = ["grower@example.org"]',
         'recipients = ["=?utf-8?q?x?=@example.org"]', "not a plain mail address",
         "[email] recipients", "=?utf-8", "grower@example.org", excludes=("recipients",)),
    Slip(41, "port 0", "port = 587", "port = 0", "out of range", "[email] port", "0",
         "1 to 65535", excludes=("port",)),
    Slip(41, "port 70000", "port = 587", "port = 70000", "out of range", "[email] port",
         "70000", "1 to 65535", excludes=("port",)),
    Slip(42, "password in the clear", 'security = "starttls"', 'security = "none"',
         "password would cross the network in the clear", "[email] security", '"none"',
         '"starttls"', "starttls", excludes=("security", "host", "password")),
    Slip(43, "password and password file", 'username = "grower"\n',
         'username = "grower"\npassword_file = "mail-password"\n', "both given",
         "[email] password_file", "both", "one of the two", "Remove",
         excludes=("username", "password")),
    Slip(44, "password file missing", f'password = "{SECRET}"', 'password_file = "./nowhere"',
         "no such password file", "[email] password_file", "./nowhere", "password alone",
         "Give the path", excludes=("password",)),
    Slip(45, "no recipient", 'recipients = ["grower@example.org"]', "recipients = []",
         "too short", "[email] recipients", "[]", "at least 1", excludes=("recipients",)),
    # Plan: 46 to 50.
    Slip(46, "schedule that is nowhere", 'schedule = "alternate-days"',
         'schedule = "alternat-days"', "no schedule of that name", f"{BATCH}, schedule",
         '"alternat-days"', '"soak-first"', 'Did you mean "alternate-days"?'),
    Slip(47, "batch name twice", 'name = "Short row"', 'name = "Long row"',
         "another batch of the garden has this name", "[[gardens.batches]]", '"Long row"',
         "each name once", excludes=("Short row",)),
    Slip(48, "unknown crop", 'crop = "kale"', 'crop = "kail"', "no crop of that name",
         '"kail", crop', '"kail"', "[[crops]]", 'Did you mean "kale"?',
         excludes=("crop", "plants")),
    Slip(49, "nothing to do", "[[feeds]]",
         '[[gardens]]\nname = "Far corner"\nlatitude = 47.1\nlongitude = 8.3\n'
         'time_zone = "Europe/Zurich"\n\n[[feeds]]',
         "no bales", '[[gardens]] "Far corner", batches', "nothing", "[[gardens.batches]]",
         "resting = true", excludes=("time_zone",)),
    Slip(50, "plan in the past", "[[feeds]]",
         '[[gardens]]\nname = "Old corner"\nlatitude = 47.1\nlongitude = 8.3\n'
         'time_zone = "Europe/Vienna"\n[[gardens.batches]]\nname = "Old row"\nbales = 1\n'
         "start_on = 2024-04-05\n\n[[feeds]]",
         "lies in the past", '[[gardens]] "Old corner"', "2027-03-01", "still in use",
         "Look at the year", warning=True, excludes=("time_zone",)),
)  # fmt: skip

_START, _BATCH_END, _PLANTING = "start_on = 2027-04-05", "weathered = false", 'crop = "kale"'
_RULE, _TIME, _WEATHER = "rain_hold_mm = 12.7", "morning = 06:30:00", "stale_after_h = 12"
_FEED, _CROP, _MAIL = "package_kg = 1.5", "cover_at_c = 2.0", "port = 587"
_PASSWORD, _DESKTOP, _FIRST = f'password = "{SECRET}"', "[desktop]", 'units = "metric"'

_DRENCHES = ", ".join(f'{day} = "drench with Fish emulsion"' for day in (3, 5, 7, 8, 9))
_OTHER = """\
[[gardens]]
name = "Far corner"
latitude = 47.1
longitude = 8.3
time_zone = "Europe/Zurich"
{freeze}
[[gardens.batches]]
name = "Row"
bales = 1
start_on = 2027-04-05
{feeds}
[[gardens.batches.plantings]]
crop = "tomato"
plants = 2

[[feeds]]"""

MORE: Mapping[str, tuple[str, str]] = {
    # Keys and values.
    "too-deep": (_FIRST, f"x = {'[' * 20}{']' * 20}"),
    "long-number": (_MAIL, f"port = {'5' * 5000}"),
    "broken-header": (_DESKTOP, "[desktop"),
    "none-of-those": ('form = "dry"', 'form = "drie"'),
    "text-too-long": ('"Short row"', f'"{"1" * 121}"'),
    "text-empty": (f'"{SECRET}"', '""'),
    "list-too-long": ('["grower@example.org"]', str(['a@b.example'] * 51)),
    "missing": ("latitude = 47.05\n", ""),
    "half-filled": ('recipients = ["grower@example.org"]\n', ""),
    "double-brackets": (_DESKTOP, "[schedules]\n[desktop]"),
    "single-brackets": (_DESKTOP, "[[desktop]]"),
    "unprintable": ('"Short row"', '"Short\\nrow"'),
    "name-empty": ('"Short row"', '" "'),
    "space-around": ('"Short row"', '" Short row"'),
    "no-mail-address": ('sender = "strawbell@example.org"', 'sender = "a@b@c"'),
    "no-mailbox": ('sender = "strawbell@example.org"', 'sender = "Bales <a@b.example"'),
    "strange-year": (_START, "start_on = 1927-04-05"),
    "no-time-away": (_TIME, f'{_TIME}\naway = ["June"]'),
    "ends-before-begin": (_TIME, f'{_TIME}\naway = ["2027-06-12/2027-06-01"]'),
    "no-service-address": (_WEATHER, f'{_WEATHER}\nbase_urls = {{ nws = "x" }}'),
    "no-header": ('contact = "grower@example.org"', 'contact = "Zürich"'),
    "service-twice": ('"met-norway"]', '"open-meteo"]'),
    "no-host": ('"smtp.example.org"', '"smtp://x"'),
    "no-command": (_PASSWORD, "password_command = \"'\""),
    "no-topic": (_DESKTOP, '[push]\nurl = "https://x.example"\ntopic = "a b"\n\n[desktop]'),
    "no-label": ('"12-0-0"', '"120-0-0"'),
    "no-rate": (_FEED, f'{_FEED}\nlabel_rate = "x"'),
    "no-short-day": (_DESKTOP, '[[schedules]]\nname = "own"\ndays = ["rest"]\n'
                     "plant_from_day = 9\n\n[desktop]"),
    "no-day": (_BATCH_END, f'{_BATCH_END}\nfeeds = {{ x = "Urea" }}'),
    # Services and mail.
    "planted-while-hot": (_RULE, f"{_RULE}\nplant_below_c = 45\nself_heating_c = 40"),
    "clocks-change": (_TIME, "morning = 02:30:00"),
    "never-quiet": (_TIME, f"{_TIME}\nquiet_from = 22:00:00\nquiet_to = 22:00:00"),
    "no-address": (_WEATHER, f'{_WEATHER}\nbase_urls = {{ open-meteo = "https://x:y" }}'),
    "service-in-the-clear": (_WEATHER, f'{_WEATHER}\nbase_urls = {{ open-meteo = "http://x.y" }}'),
    "service-not-used": (_WEATHER, f'{_WEATHER}\nbase_urls = {{ nws = "https://x.y" }}'),
    "recipient-twice": ('["grower@example.org"]', '["a@b.example", "a@b.example"]'),
    "port-for-reading": (_MAIL, "port = 993"),
    "port-and-security": (_MAIL, "port = 465"),
    "username-missing": ('username = "grower"\n', ""),
    "password-missing": (f"{_PASSWORD}\n", ""),
    "not-for-sendmail": (_MAIL, f'{_MAIL}\nvia = "sendmail"'),
    "push-in-the-clear": (_DESKTOP, '[push]\nurl = "http://x.example"\n\n[desktop]'),
    "no-such-garden": (_DESKTOP, '[household]\nhelpers = [{ address = "a@b.example", '
                       'gardens = ["X"] }]\n\n[desktop]'),
    "inbox-in-the-clear": (_DESKTOP, '[inbox]\nhost = "x.example"\nsecurity = "none"\n\n[desktop]'),
    # The grower's own feeds, schedules and crops.
    "dry-feed-with-rate": (_FEED, f'{_FEED}\nlabel_rate = "15 mL per L"'),
    "oxidiser": (_FEED, f'{_FEED}\nmaterial = "ammonium-nitrate"'),
    "package-of-nothing": (_FEED, f"{_FEED}\npackages = [{{ price = 1 }}]"),
    "package-of-both": (_FEED, f"{_FEED}\npackages = [{{ kg = 1, l = 1 }}]"),
    "volume-without-density": ("density_kg_per_l = 0.6", "in_stock_l = 3"),
    "stock-twice": (_FEED, f"{_FEED}\nin_stock_kg = 1\nin_stock_l = 1"),
    "stock-of-nothing": (_FEED, f"{_FEED}\nin_stock_on = 2027-04-01"),
    "schedule": (_DESKTOP, '[[schedules]]\nname = "own"\ndays = ["water"]\nplant_from_day = 9\n\n'
                 "[desktop]"),
    "feed-of-day": (_DESKTOP, '[[schedules]]\nname = "own"\ndays = ["feed with X"]\n'
                    "plant_from_day = 9\n\n[desktop]"),
    "no-built-in-crop": ('like = "tomato"', 'like = "tomatto"'),
    "crop-lacks": ('like = "tomato"\n', ""),
    "emergence-falls": (_CROP, f"{_CROP}\nemergence = [[20, 8], [15, 14]]"),
    "low-above-high": (_CROP, f"{_CROP}\nkill_at_c = 5"),
    # Places.
    "in-the-sea": ("latitude = 47.05\nlongitude = 8.31", "latitude = 0\nlongitude = 0"),
    "far-from-its-clock": ("longitude = 8.31", "longitude = -83.1"),
    # Gardens, batches and plantings.
    "id-twice": ('name = "Short row"', 'name = "Short row"\nid = "Long"\n\n[[gardens.batches]]\n'
                 'name = "X"\nbales = 1\nstart_on = 2027-04-05\nid = "Long"'),
    "names-alike": ('"Short row"', '"Long-row"'),
    "no-start": (f"{_START}\n", ""),
    "start-twice": (_START, f"{_START}\nplant_on = 2027-05-15"),
    "badly-in-bales": (_PLANTING, 'crop = "sweet corn"'),
    "planted-too-early": (_PLANTING, f"{_PLANTING}\nplant_on = 2027-04-06"),
    "crop-not-in-table": (_PLANTING, 'crop = "rhubarb"'),
    "follows-nothing": (_PLANTING, f'{_PLANTING}\nfollows = "pea"'),
    "far-ahead": (_START, "start_on = 2029-04-05"),
    "no-room": ("plants = 8", "plants = 800"),
    # What batches are fed.
    "no-such-day": (_BATCH_END, f'{_BATCH_END}\nfeeds = {{ 50 = "Urea" }}'),
    "unfit-feed": ('"12-0-0"', '"0-12-0"'),
    "too-much-water": ('form = "dry"', 'form = "liquid"\nlabel_rate = "15 mL per L"'),
    "strength-unknown": ('label = "12-0-0"\nform = "dry"', 'label = "4-0-0"\nform = "soluble"'),
    "too-much-nitrogen": (_BATCH_END, f"{_BATCH_END}\ndose_per_kg_straw_g = 9"),
    "too-little-nitrogen": (
        "[[feeds]]", _OTHER.format(freeze="", feeds=f"feeds = {{ {_DRENCHES} }}")
    ),
    # Ripening before the freeze.
    "raw-manure": (_FEED, f'{_FEED}\nmaterial = "poultry-manure"'),
    "crowded": (f'{_PLANTING}\nplants = 8', 'crop = "pea"\nplants = 8\n\n'
                '[[gardens.batches.plantings]]\ncrop = "kale"\nplants = 8\nfollows = "pea"\n'
                "plant_on = 2027-05-01"),
    "ripe-in-frost": (_PLANTING, 'crop = "tomato"\nplant_on = 2027-09-01'),
    "not-ripe": ("[[feeds]]", _OTHER.format(freeze="first_freeze_on = 2027-06-20", feeds="")),
}  # fmt: skip
"""What else can be found, by the name of the finding, each made by what replaces what."""
