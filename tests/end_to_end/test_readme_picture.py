"""The README shows what the demo sends, and not what it sent once."""

from __future__ import annotations

from support.checkout import ROOT
from support.readme_picture import PICTURE, drawn, mail_of_the_demo

MOST_BYTES = 8192


def test_the_picture_of_the_readme_is_the_mail_of_the_demo() -> None:
    """Write it again with `python -m tests.support.readme_picture`."""
    picture = PICTURE.read_text(encoding="utf-8")
    assert picture == drawn(mail_of_the_demo())
    assert len(picture.encode()) < MOST_BYTES
    assert str(PICTURE.relative_to(ROOT)) in (ROOT / "README.md").read_text(encoding="utf-8")
