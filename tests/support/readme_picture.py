"""The picture of the README: one morning's mail of the demo, drawn as a card.

Made anew with `python -m tests.support.readme_picture`; a test fails while it is another.
"""

from __future__ import annotations

import tempfile
from email import message_from_bytes, policy
from email.message import EmailMessage
from html import escape
from pathlib import Path
from types import SimpleNamespace

from strawbell.cli.demo import demo

PICTURE = Path(__file__).parents[1] / "end_to_end" / "morning.svg"
MORNING = "2027-04-08"
"""The morning of the demo that is shown: a feeding held for frost."""
LINE_PX, CHARACTER_PX, MARGIN_PX, HEAD_PX = 20, 8.2, 24, 72


def mail_of_the_demo() -> EmailMessage:
    """Play the demo, and return the mail of that morning."""
    with tempfile.TemporaryDirectory() as folder:
        demo(SimpleNamespace(out=Path(folder)))  # type: ignore[arg-type]
        (found,) = Path(folder).glob(f"{MORNING}-*-morning-*.eml")
        return message_from_bytes(found.read_bytes(), policy=policy.default)


def drawn(mail: EmailMessage) -> str:
    """Return the mail as a picture; who cannot see it has all its words as its description."""
    body = mail.get_body(("plain",))
    assert body is not None
    lines = body.get_content().strip().splitlines()
    width = round(max(map(len, lines)) * CHARACTER_PX + 2 * MARGIN_PX)
    height = HEAD_PX + LINE_PX * len(lines) + MARGIN_PX
    subject = escape(str(mail["Subject"]))
    written = "\n".join(
        f'<text x="{MARGIN_PX}" y="{HEAD_PX + LINE_PX * number}">{escape(line)}</text>'
        for number, line in enumerate(lines, 1)
        if line
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">\n'
        f"<title>{subject}</title>\n<desc>{escape(' '.join(lines))}</desc>\n"
        f'<rect width="{width}" height="{height}" rx="10" fill="#fffdf6" stroke="#8a6d1f"/>\n'
        f'<g fill="#26210f" font-family="ui-monospace, monospace" font-size="13.5">\n'
        f'<text x="{MARGIN_PX}" y="38" font-size="17" font-weight="bold">{subject}</text>\n'
        f'<path d="M{MARGIN_PX} 58H{width - MARGIN_PX}" stroke="#8a6d1f"/>\n'
        f"{written}\n</g>\n</svg>\n"
    )


if __name__ == "__main__":
    PICTURE.write_text(drawn(mail_of_the_demo()), encoding="utf-8")
