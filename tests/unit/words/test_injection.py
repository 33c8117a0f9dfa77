"""Whatever a grower, a service or a stranger calls a thing, it is shown and never obeyed."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest

from strawbell.words.escaping import columns
from support.hostile_names import HOSTILE, STEERING, all_notices


class Tags(HTMLParser):
    """Collects the names of live tags and attributes, and the text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.live: list[str] = []
        self.attributes: set[str] = set()
        self.words = ""
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.live.append(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        self.words += data

    def handle_comment(self, data: str) -> None:
        self.live.append("comment")


HARMLESS = [set(Tags(notice.html).live) for notice in all_notices("Row A")]
ATTRIBUTES = [Tags(notice.html).attributes for notice in all_notices("Row A")]


def test_the_table_is_as_long_as_it_is_said_to_be() -> None:
    assert len(set(HOSTILE)) == 40


@pytest.mark.parametrize("name", HOSTILE, ids=[f"name{number}" for number in range(len(HOSTILE))])
def test_a_hostile_name_steers_nothing_in_any_channel(name: str) -> None:
    for place, notice in enumerate(all_notices(name)):
        for line in (notice.subject, notice.short):
            assert STEERING.search(line) is None
            assert "\n" not in line
        assert len(notice.subject) <= 52
        assert len(notice.short) <= 240
        assert STEERING.search(notice.text) is None
        assert all(columns(line) <= 78 for line in notice.text.split("\n"))
        page = Tags(notice.html)
        assert set(page.live) <= HARMLESS[place], "no tag is live that a tame name does not have"
        assert page.attributes <= ATTRIBUTES[place]
        assert STEERING.search(notice.html) is None
        assert "49" not in notice.subject
        for said in (notice.subject, notice.short, notice.text, notice.html):
            said.encode("utf-8")


@pytest.mark.parametrize(
    "name",
    [
        "{{7*7}}",
        "{0.__class__}",
        "{what}{where}",
        "%(x)s %s %d %n",
        "$HOME ${HOME} $(id)",
        "<b>bold</b>",
        "&lt;b&gt; &amp; &#60;",
        "🌱👩‍🌾🇨🇭",
    ],
)
def test_a_printable_name_is_shown_letter_for_letter(name: str) -> None:
    for notice in all_notices(name):
        assert name in " ".join(notice.text.split())
        assert name in Tags(notice.html).words


def test_a_name_of_ten_kilobytes_leaves_a_mail_of_ordinary_size() -> None:
    """Only a key stays whole, twice, since it has to be typed; planning makes short ones."""
    whole_keys = 2 * 10_240
    for notice in all_notices("x" * 10_240):
        assert len(notice.html) < 40_000 + whole_keys
        assert len(notice.text) < 12_000 + whole_keys
