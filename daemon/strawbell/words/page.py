"""What a notice says, part by part in the order it is read, and the same as plain text.

Work first, the most urgent on top; what to leave; why; how to answer; what is next; and steps and
cautions only where they are new. The page of `strawbell.words.html` shows the same parts.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from msgspec import Struct

from strawbell.words.advice import Figure
from strawbell.words.catalogue import Tongue
from strawbell.words.cautions import CautionWords
from strawbell.words.escaping import LINE_WIDTH, clean_lines, wrap

_ITEM = "- "


class Mood(StrEnum):
    """What a day asks for, as its band shows it; the words say it too."""

    WORK = "due"
    WAIT = "held"
    URGENT = "missed"
    QUIET = "done"


class Band(Struct, frozen=True):
    """The head of a page: what the day is about, and its amounts written large."""

    mood: Mood
    above: str
    heading: str
    figures: tuple[Figure, ...] = ()
    below: str = ""


class Column(Struct, frozen=True):
    """A day of a picture: its work in a word or two; where it has a bar, its figure and height.

    `above` and `under` are how far the bar goes from its base line [px]; a `strong` one is what
    the picture is about.
    """

    weekday: str
    weekday_whole: str
    words: tuple[str, ...]
    is_work: bool
    figure: str = ""
    above: int = 0
    under: int = 0
    strong: bool = False


class Piece(Struct, frozen=True):
    """A part of a strip: its share of the width [percent], its ground, and the words in it."""

    share: int
    role: str
    words: str = ""


class Strip(Struct, frozen=True):
    """A bar across the page, with what it says above it."""

    label: str
    pieces: tuple[Piece, ...]


class Picture(Struct, frozen=True):
    """One question and its answer, drawn by days in `columns` or along `strips` with their `ends`.

    All that it shows is in its words and figures too.
    """

    question: str
    columns: tuple[Column, ...] = ()
    strips: tuple[Strip, ...] = ()
    ends: tuple[Piece, ...] = ()


class Steps(Struct, frozen=True):
    """The steps of one piece of work."""

    head: str
    steps: tuple[str, ...]


class Page(Struct, frozen=True):
    """A notice in words.

    `line` is what the band says, as a sentence; `more` goes with it, `lines` are the rest of the
    work. `commands` are typed as they stand. `answers` holds the place of how to answer, "" for
    none.
    """

    subject: str
    garden: str
    date: str
    band: Band
    line: str
    tongue: Tongue
    lead: tuple[str, ...] = ()
    more: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    commands: tuple[str, ...] = ()
    blocks: tuple[Steps, ...] = ()
    """Work that needs more than a line, each with its heading."""
    note: str = ""
    """What must not be overlooked, on a ground of its own."""
    why: tuple[str, ...] = ()
    next: str = ""
    pictures: tuple[Picture, ...] = ()
    as_before: str = ""
    how: tuple[Steps, ...] = ()
    care: tuple[CautionWords, ...] = ()
    paragraphs: tuple[str, ...] = ()
    foot: str = ""
    attribution: str = ""
    link: str = ""

    @property
    def work(self) -> tuple[str, ...]:
        """Return all that is to be done and left, a sentence or two each."""
        return (" ".join((self.line, *self.more)), *self.lines)


def page_text(page: Page, answers: str = "", width: int = LINE_WIDTH) -> str:
    """Return a page as text in lines of `width` columns; `answers` says how to answer."""
    say = page.tongue.say

    def block(lines: Iterable[str]) -> str:
        return "\n".join(lines)

    def said(text: str, first: str = "") -> str:
        return wrap(text, first, width=width)

    # A narrow terminal breaks a long line itself; a command is copied whole only that way.
    typed = (wrap(each, "  ", width=max(width, LINE_WIDTH)) for each in page.commands)
    blocks = [
        said(say("page.head", garden=page.garden, date=page.date)),
        block(map(said, page.lead)),
        block(map(said, page.work)),
        block(typed),
        said(page.note) if page.note else "",
        said(say("page.why", why=" ".join(page.why))) if page.why else "",
        answers,
        *(_numbered(each, page.tongue, width) for each in page.blocks),
        block(map(said, page.paragraphs)),
        said(page.next) if page.next else "",
        said(page.as_before) if page.as_before else "",
        *(_numbered(each, page.tongue, width) for each in page.how),
        block(
            (
                said(say("page.care")),
                *(said(each.whole, _ITEM) for each in page.care),
            )
        )
        if page.care
        else "",
        block(
            (
                *((said(page.foot),) if page.foot else ()),
                *((said(page.attribution),) if page.attribution else ()),
                *((page.link,) if page.link else ()),
            )
        ),
    ]
    return clean_lines("\n\n".join(each for each in blocks if each)) + "\n"


def _numbered(steps: Steps, tongue: Tongue, width: int) -> str:
    if len(steps.steps) == 1:
        return wrap(tongue.say("page.step", head=steps.head, step=steps.steps[0]), width=width)
    return "\n".join(
        (
            wrap(steps.head, width=width),
            *(wrap(step, f"{at}. ", width=width) for at, step in enumerate(steps.steps, 1)),
        )
    )
