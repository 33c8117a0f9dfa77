"""The table of what checks can find is whole, and nothing in it is left over."""

from __future__ import annotations

import re
import string
import tomllib

from support.checkout import PACKAGE

CONFIG = PACKAGE / "config"
TABLE = tomllib.loads((CONFIG / "findings.toml").read_text(encoding="utf-8"))
CHECKS = "".join(file.read_text(encoding="utf-8") for file in CONFIG.glob("*.py"))


def test_every_finding_is_found_by_a_check_and_every_check_says_one() -> None:
    """By its name, which stands in the source as it stands in the table."""
    assert [name for name in TABLE if f'"{name}"' not in CHECKS] == []
    assert set(re.findall(r'(?:finding|refuse|_refusal|said)\(\s*"([a-z-]+)"', CHECKS)) <= set(
        TABLE
    )


def test_every_finding_is_said_in_the_form_of_the_others() -> None:
    for name, said in TABLE.items():
        assert set(said) <= {"what", "allowed", "remedy", "warning"}, name
        assert said["what"][0].islower() or said["what"][0] in '[{"', name
        remedy = said.get("remedy", "")
        assert not remedy or remedy.endswith((".", "?", "}")), name


def test_every_place_in_a_finding_is_filled_in_by_its_check() -> None:
    """A place that no check names would end the reading of a configuration with a traceback."""
    for name, said in TABLE.items():
        texts = (said.get(key, "") for key in ("what", "allowed", "remedy"))
        places = {field for text in texts for _, field, *_ in string.Formatter().parse(text)}
        for place in places - {None, "max_length", "min_length"}:  # the library fills these in
            assert re.search(rf"\b{place}=|\"{place}\": ", CHECKS), (name, place)
