"""The bytes of a message: expected headers only, whatever the texts hold."""

from __future__ import annotations

from datetime import date
from email import message_from_bytes
from email.header import decode_header, make_header
from email.message import EmailMessage
from email.policy import default

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strawbell.edges.mime import address, clean_header, clean_text, compose, envelope_address
from strawbell.model.notice import Notice, NoticeKind
from support import notices

ID = "<0123456789abcdef0123456789abcdef@strawbell.invalid>"
SENDER = "Strawbell <bell@example.org>"
RECIPIENT = "grower@example.org"

NAMES = [
    "From",
    "To",
    "Subject",
    "Date",
    "Message-ID",
    "In-Reply-To",
    "References",
    "List-Id",
    "Auto-Submitted",
    "MIME-Version",
    "Content-Type",
]

BREAKS = {
    "cr": "\r",
    "lf": "\n",
    "crlf": "\r\n",
    "vt": "\v",
    "ff": "\f",
    "nel": "\x85",
    "ls": "\u2028",
    "ps": "\u2029",
    "nul": "\0",
    "fs": "\x1c",
    "folded": "\r\n ",
    "q-word": "=?utf-8?q?=0D=0A?=",
    "b-word": "=?utf-8?b?DQo=?=",
    "split-word": "=\u200e?utf-8?q?=0D=0A?\u200e=",
    "surrogate": "\ud800",
}


def notice(**changes: object) -> Notice:
    said = {
        "subject": "Feed Row A: 500 g per bale",
        "text": "Feed 500 g per bale.\nWater 4 l.\n",
        "html": "<p>Feed <b>500 g</b> per bale.</p>",
    }
    return notices.notice(**(said | changes))


def raw_header_names(message: bytes) -> list[str]:
    head = message.partition(b"\r\n\r\n")[0]
    lines = head.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    return [line.partition(b":")[0].decode() for line in lines if line[:1] not in b" \t"]


def parsed(message: bytes) -> EmailMessage:
    result = message_from_bytes(message.replace(b"\r\n", b"\n"), policy=default)
    assert isinstance(result, EmailMessage)
    return result


def test_text_and_html_say_the_same_in_one_message() -> None:
    """Plain text first, HTML second, both back as they went in."""
    message = parsed(compose(notice(), SENDER, RECIPIENT, ID))
    text, html = message.iter_parts()
    assert message.get_content_type() == "multipart/alternative"
    assert text.get_content() == notice().text
    assert html.get_content().rstrip("\n") == notice().html
    assert (text.get_content_type(), html.get_content_type()) == ("text/plain", "text/html")


def test_without_html_the_message_is_plain_text() -> None:
    """No empty second part."""
    message = parsed(compose(notice(html=""), SENDER, RECIPIENT, ID))
    assert message.get_content_type() == "text/plain"


def test_headers_are_the_expected_ones_and_unencoded() -> None:
    """Identifiers stand in the raw bytes as they are, so threading works."""
    raw = compose(notice(), SENDER, RECIPIENT, ID)
    assert sorted(raw_header_names(raw)) == sorted(NAMES)
    assert f"\r\nMessage-ID: {ID}\r\n".encode() in raw
    assert b"\r\nAuto-Submitted: auto-generated\r\n" in raw
    assert b"\r\nDate: Fri, 09 Apr 2027 04:30:00 +0000\r\n" in raw
    for name in (b"In-Reply-To", b"References", b"List-Id"):
        line = next(line for line in raw.split(b"\r\n") if line.startswith(name))
        assert line.endswith(b"strawbell.invalid>")
        assert b"=?" not in line


def thread_of(**changes: object) -> str:
    return str(parsed(compose(notice(**changes), SENDER, RECIPIENT, ID))["References"])


def test_a_week_is_one_thread() -> None:
    """All notices of a garden and week share one reference, another week or garden does not."""
    assert thread_of() == thread_of(local_date=date(2027, 4, 11), kind=NoticeKind.EVENING)
    assert thread_of() != thread_of(local_date=date(2027, 4, 12))
    assert thread_of() != thread_of(local_date=date(2028, 4, 9))
    assert thread_of() != thread_of(garden="Another")


def test_the_same_notice_gives_the_same_bytes() -> None:
    """Nothing random and no clock is in them, not even in the part boundary."""
    assert compose(notice(), SENDER, RECIPIENT, ID) == compose(notice(), SENDER, RECIPIENT, ID)


@pytest.mark.parametrize("sign", BREAKS.values(), ids=BREAKS.keys())
@pytest.mark.parametrize(
    "field", ["subject", "garden", "sender-name", "sender", "recipient-name", "recipient"]
)
def test_no_text_makes_another_header_or_recipient(sign: str, field: str) -> None:
    """Fifteen ways to break a line in six places leave exactly the expected headers."""
    evil = f"x{sign}Bcc: thief@example.org{sign}y"
    sender, recipient, changes = SENDER, RECIPIENT, {}
    if field in {"subject", "garden"}:
        changes = {field: evil}
    elif field == "sender-name":
        sender = f'"{evil}" <bell@example.org>'
    elif field == "sender":
        sender = f"bell{evil}@example.org"
    elif field == "recipient-name":
        recipient = f'"{evil}" <grower@example.org>'
    else:
        recipient = f"grower{evil}@example.org"
    raw = compose(notice(**changes), sender, recipient, ID)
    assert sorted(raw_header_names(raw)) == sorted(NAMES)
    assert max(len(line) for line in raw.split(b"\r\n")) <= 998
    assert b"\0" not in raw
    if field.endswith("-name"):
        message = parsed(raw)
        assert message["From"].addresses[0].addr_spec == "bell@example.org"
        assert message["To"].addresses[0].addr_spec == "grower@example.org"
        assert len(message["To"].addresses) == 1


@given(text=st.text(max_size=400), subject=st.text(max_size=400))
def test_any_text_keeps_the_shape_of_a_message(text: str, subject: str) -> None:
    """Headers, line lengths and line ends hold for every text there is."""
    raw = compose(notice(subject=subject, text=text, html=text), SENDER, RECIPIENT, ID)
    # A message without HTML is one part, which carries its own transfer encoding.
    extra = [] if text else ["Content-Transfer-Encoding"]
    assert sorted(raw_header_names(raw)) == sorted([*NAMES, *extra])
    assert max(len(line) for line in raw.split(b"\r\n")) <= 998
    assert raw.count(b"\n") == raw.count(b"\r\n") == raw.count(b"\r")
    assert b"\0" not in raw


@given(st.text(max_size=300))
def test_a_cleaned_header_value_is_one_short_line_without_encoded_words(value: str) -> None:
    """Cleaning twice changes nothing more."""
    cleaned = clean_header(value)
    assert len(cleaned) <= 200
    assert len(cleaned.splitlines()) <= 1
    assert "=?" not in cleaned
    assert clean_header(cleaned) == cleaned


def test_readable_text_passes_as_it_is() -> None:
    """Cleaning costs no letter of an honest subject."""
    subject = "Füttern: 500 g 🌱 – 👩\u200d🌾 100 % (−3 °C)"
    assert clean_header(subject) == subject
    raw = compose(notice(subject=subject, text=subject + "\n"), SENDER, RECIPIENT, ID)
    message = parsed(raw)
    assert message["Subject"] == subject
    text, _ = message.iter_parts()
    assert text.get_content() == subject + "\n"


@given(st.text(alphabet="ab (%−é🌱)", max_size=120))
def test_a_subject_reads_as_it_was_meant(subject: str) -> None:
    """Blanks survive between encoded words, and lines are short."""
    raw = compose(notice(subject=subject), SENDER, RECIPIENT, ID)
    head = raw.partition(b"\r\n\r\n")[0]
    assert max(len(line) for line in head.split(b"\r\n")) <= 78
    decoded = str(make_header(decode_header(message_from_bytes(raw)["Subject"])))
    assert " ".join(decoded.split()) == clean_header(subject)


def test_body_text_keeps_line_breaks_and_loses_control_characters() -> None:
    """Terminal escapes and NUL go, tabs and breaks stay."""
    assert clean_text("a\r\nb\rc\td\x1b[31m\0e") == "a\nb\nc\td[31me"


def test_an_address_is_taken_apart_for_the_envelope() -> None:
    """Only the bare address goes to the server."""
    assert envelope_address("Bea Grower <bea@example.org>") == "bea@example.org"
    assert envelope_address("bea@example.org") == "bea@example.org"
    assert address("bea@gärten.example").domain == "xn--grten-gra.example"


@pytest.mark.parametrize(
    ("value", "name", "spec"),
    [
        ("Feed Bcc: thief@example.net <bea@example.org>", "Feed Bcc: thief@example.net", None),
        ('"Bea \\"B\\" (Row A), G." <bea@example.org>', 'Bea "B" (Row A), G.', None),
        ("Bea, G. <bea@example.org>", "Bea, G.", None),
        ("x" * 900 + " <bea@example.org>", "x" * 200, None),
        ("bea@example.org Bcc: thief@example.net", "", "nobody@strawbell.invalid"),
        ("bea@example.org, thief@example.net", "", "nobody@strawbell.invalid"),
        ("a@b@example.org", "", "nobody@strawbell.invalid"),
        ("bea@example.org x", "", "bea@strawbell.invalid"),
        ("bea@gärten x.example", "", "bea@strawbell.invalid"),
        ("", "", "nobody@strawbell.invalid"),
    ],
)
def test_a_doubtful_address_is_the_meant_one_or_nobodys(
    value: str, name: str, spec: str | None
) -> None:
    """Nothing in a name is an address, and two addresses are none."""
    assert address(value).display_name == name
    assert envelope_address(value) == (spec or "bea@example.org")
