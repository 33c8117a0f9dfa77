"""The findings of the catalogue are those that the checks find, each with the places it names."""

from __future__ import annotations

import re
from collections.abc import Iterator

from strawbell.words import catalogue
from strawbell.words.catalogue import Choice, Message
from support.checkout import PACKAGE

CHECKS = "".join(file.read_text(encoding="utf-8") for file in (PACKAGE / "config").glob("*.py"))
ROWS = [key.split(".")[1:] for key in catalogue.messages("en_GB") if key.startswith("mistake.")]
"""Each as its name and the name of the row."""


def places_of(parts: Message) -> Iterator[str]:
    for part in parts:
        if isinstance(part, Choice):
            yield part.place
            for each in part.options.values():
                yield from places_of(each)


def test_every_finding_is_found_by_a_check_and_every_check_says_one() -> None:
    """By its name, which stands in the source as it stands in the catalogue."""
    names = {name for name, _ in ROWS}
    assert [name for name in names if f'"{name}' not in CHECKS and f".{name}." not in CHECKS] == []
    found = re.findall(r'(?:finding|refuse|_refusal|_warning|said)\([\w\s,]*?"([a-z-]+)"', CHECKS)
    assert set(found) - names == set()
    assert [row for name, row in ROWS if row not in ("what", "found", "allowed", "remedy")] == []
    assert [name for name in names if [name, "what"] not in ROWS] == []


def test_every_place_in_a_finding_is_filled_in_by_its_check() -> None:
    """A place that no check names would end the reading of a configuration with a traceback."""
    for name, row in ROWS:
        (parts,) = catalogue.lines("en_GB", f"mistake.{name}.{row}")
        for place in set(places_of(parts)) - {"max_length", "min_length", "allowed"}:
            assert re.search(rf"\b{place}=|\"{place}\": ", CHECKS), (name, place)
