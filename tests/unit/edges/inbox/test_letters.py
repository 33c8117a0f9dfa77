"""A mail is read as a reply only where a person wrote it, and only what that person wrote."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from strawbell.app.ports import Bounce, IgnoredFor, Reply
from strawbell.edges.inbox import MOST_BOUNDARIES, MOST_HEADER_LINES, READ_BYTES, read_letter
from support.letters import OURS, QUOTE, TOKEN, letter, nested, report

CAME = datetime(2027, 4, 9, 5, 1, tzinfo=UTC)


def reply(raw: bytes) -> Reply:
    read = read_letter(raw, CAME)
    assert isinstance(read, Reply), read
    return read


@pytest.mark.parametrize(
    "body",
    [
        f"Done\n\nOn Fri, 9 Apr 2027 at 06:31, Strawbell <bales@example.org>\nwrote:\n\n{QUOTE}",
        f"Am 09.04.27 um 06:31 schrieb Strawbell:\n{QUOTE}\nDone\n",
        f"{QUOTE}\nDone\n",
        "Done\n\n-----Original Message-----\nFrom: Strawbell\n\nmissed\n",
        "Done\n\n-- \nAda, who never missed a day\n",
        "Done\n\nSent from my iPhone\n",
        "Done\n________________________________\nFrom: Strawbell\nmissed\n",
        "Done\n\nFrom: Strawbell <bales@example.org>\nSent: Friday\nTo: Ada\n\nmissed\n",
    ],
    ids=["top", "bottom", "no-border", "original", "signature", "phone", "line", "headers"],
)
def test_only_what_was_typed_counts(body: str) -> None:
    """Quotes, their borders and signatures are left out, wherever the answer stands."""
    assert reply(letter(body)).lines == ("Done",)


def test_a_word_that_is_only_quoted_was_not_typed() -> None:
    """What we wrote ourselves is no answer."""
    assert reply(letter(QUOTE)).lines == ()


@pytest.mark.parametrize(
    "page",
    [
        '<div dir="ltr">Done<br></div><div class="gmail_quote">missed</div>',
        '<style>p{x:y}</style><p>Done</p><div style="border-top: solid #E1E1E1 1pt">missed</div>',
        '<p>Done</p><div id="appendonsend"></div><p>missed</p>',
        "<p>Done</p><blockquote type=cite>missed</blockquote>",
    ],
)
def test_a_reply_in_html_alone_is_read_down_to_its_quote(page: str) -> None:
    """Some mail programs send no text part."""
    assert reply(letter(page, kind='text/html; charset="utf-8"')).lines == ("Done",)


def test_headers_are_decoded_and_joined() -> None:
    """A subject in two encoded words, or folded, comes back in one piece."""
    split = f"=?UTF-8?Q?Re=3A_D=C3=BCngen_[{TOKEN[:8]}?=\n =?UTF-8?Q?{TOKEN[8:]}]?="
    assert reply(letter(subject=split)).subject == f"Re: D\u00fcngen [{TOKEN}]"
    folded = reply(letter(subject=f"Re: Feed [{TOKEN[:12]}\n {TOKEN[12:]}]")).subject
    assert folded.replace(" ", "") == f"Re:Feed[{TOKEN}]"


def test_what_identifies_a_reply_is_its_message_id_or_its_place() -> None:
    """So that the same mail is known when it is read a second time."""
    assert reply(letter()).identity == "<a1@mail.example.org>"
    nameless = read_letter(letter(identity=""), CAME, "7:3")
    assert isinstance(nameless, Reply)
    assert nameless.identity == "7:3"
    assert (nameless.sender, nameless.received_at) == ("ada@example.org", CAME)


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"Auto-Submitted": "auto-replied"}, IgnoredFor.AUTOMATIC),
        ({"Auto-Submitted": "auto-generated; owner-email=x@example.org"}, IgnoredFor.AUTOMATIC),
        ({"Precedence": "bulk"}, IgnoredFor.AUTOMATIC),
        ({"X-Autoreply": "yes"}, IgnoredFor.AUTOMATIC),
        ({"Return-Path": "<>"}, IgnoredFor.AUTOMATIC),
        ({"Precedence": "list"}, IgnoredFor.LIST),
        ({"List-Id": "<growers.example.com>"}, IgnoredFor.LIST),
        ({"Authentication-Results": "mx.example.net; dmarc=fail"}, IgnoredFor.FORGED),
    ],
)
def test_what_no_person_wrote_is_no_answer(more: dict[str, str], why: IgnoredFor) -> None:
    """Even where it quotes the subject with its token, and the word done."""
    assert read_letter(letter(more=more), CAME) == why


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"subject": f"Automatic reply: Feed [{TOKEN}]"}, IgnoredFor.AUTOMATIC),
        ({"subject": f"Abwesenheitsnotiz: Feed [{TOKEN}]"}, IgnoredFor.AUTOMATIC),
        ({"sender": "noreply@example.org"}, IgnoredFor.AUTOMATIC),
        ({"sender": "a@example.org, b@example.org"}, IgnoredFor.NO_ONE_SENDER),
        ({"sender": "nobody at all"}, IgnoredFor.NO_ONE_SENDER),
        ({"identity": OURS}, IgnoredFor.OWN),
    ],
)
def test_who_wrote_it_has_to_be_one_person(change: dict[str, str], why: IgnoredFor) -> None:
    """Not a program, not several, not ourselves."""
    assert read_letter(letter(**change), CAME) == why  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "more",
    [
        {"X-Auto-Response-Suppress": "All"},
        {"Auto-Submitted": "no"},
        {"Authentication-Results": "mx.example.net; dkim=pass; dmarc=pass"},
        {"Authentication-Results": "mx.example.net; spf=fail; dmarc=none"},
    ],
)
def test_signs_that_ordinary_mail_carries_too_say_nothing(more: dict[str, str]) -> None:
    """They refuse nobody."""
    assert reply(letter(more=more)).lines == ("done",)


def test_only_the_topmost_verdict_on_the_sender_counts() -> None:
    """A verdict that came with the mail stands below that of the own server."""
    raw = letter(more={"Authentication-Results": "mx.example.net; dmarc=fail header.from=x"})
    forged = raw.replace(b"Date:", b"Authentication-Results: mx.example.net; dmarc=pass\r\nDate:")
    assert read_letter(forged, CAME) == IgnoredFor.FORGED


def test_a_second_from_line_is_refused() -> None:
    """Readers show one of them, servers judge the other."""
    raw = letter().replace(b"From:", b"From: Stranger <s@example.com>\r\nFrom:")
    assert read_letter(raw, CAME) == IgnoredFor.NO_ONE_SENDER


@pytest.mark.parametrize(("action", "status"), [("failed", "5.1.1"), ("delayed", "4.4.1")])
def test_a_report_names_the_message_of_ours_it_is_about(action: str, status: str) -> None:
    """Its words are no answer, its verdict is kept."""
    read = read_letter(report(action, status), CAME)
    said = "550 5.1.1 no such user here"
    assert read == Bounce(OURS, action, status, "ada@example.org", said)


def test_a_receipt_is_neither_answer_nor_bounce() -> None:
    """That a mail was shown says nothing about the work."""
    raw = report(kind="disposition-notification")
    assert read_letter(raw, CAME) == IgnoredFor.AUTOMATIC


def test_a_mail_is_never_read_beyond_its_limits() -> None:
    """Size, headers, and parts within parts."""
    big = letter("done\n\n" + "x" * 10_000_000)
    assert reply(big).lines[0] == "done"
    assert sum(map(len, reply(big).lines)) < READ_BYTES
    head = {f"X-Pad-{number}": "y" for number in range(MOST_HEADER_LINES)}
    assert read_letter(letter(more=head), CAME) == IgnoredFor.TOO_MUCH
    assert isinstance(read_letter(nested(MOST_BOUNDARIES - 1), CAME), Reply)
    assert read_letter(nested(MOST_BOUNDARIES), CAME) == IgnoredFor.TOO_MUCH


def test_what_is_defective_is_marked_so() -> None:
    """A decoder may make a word of what was damaged on its way."""
    broken = letter("ZG9u!!!ZQo\n", encoding="base64")
    assert not reply(broken).is_whole
    assert not reply(letter("x", kind='multipart/encrypted; boundary="e"')).is_whole


def test_an_unknown_charset_is_read_as_far_as_it_is_ascii() -> None:
    """The words of the vocabulary mostly are."""
    assert reply(letter("done\n", kind='text/plain; charset="x-none"')).lines == ("done",)


def test_a_thumb_under_a_mail_is_no_answer() -> None:
    """It says that somebody saw it."""
    body = (
        "--r\nContent-Type: text/plain\n\n\U0001f44d\n"
        '--r\nContent-Type: text/vnd.google.email-reaction+json\n\n{"version": 1}\n--r--\n'
    )
    raw = letter(body, kind='multipart/alternative; boundary="r"')
    assert read_letter(raw, CAME) == IgnoredFor.REACTION


@pytest.mark.parametrize(
    "raw", [b"", b"\n\n", b"\xff\xfe\x00", b"From:\n\n", b"Content-Type: multipart/mixed\n\nx"]
)
def test_rubbish_is_ignored(raw: bytes) -> None:
    """Whatever lies in the mailbox, the next mail is read."""
    assert isinstance(read_letter(raw, CAME), IgnoredFor)
