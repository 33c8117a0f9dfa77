"""The HTML mail: a page for a phone at dawn, readable without pictures, in light and in dark.

Colours live here, as data, so that a test can measure every contrast; the template only lays out.
No image, no script, no outside address but the forecast service's link.

Decided 2026-11-29: a wheel brings the templates compiled ahead (`daemon/build_pages.py`), for the
version of Jinja2 that it was built with and for no other; a checkout, and a newer Jinja2, compiles
them. That costs five starts of a bare interpreter and 2 MiB of an idle daemon.
"""

from __future__ import annotations

from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from strawbell.words import __path__ as package_path
from strawbell.words.page import Page

if TYPE_CHECKING:
    from jinja2 import Environment

NOTICE_TEMPLATES = ("notice.html.j2", "asking.html.j2")
"""What a notice is made of."""

LIGHT: MappingProxyType[str, str] = MappingProxyType(
    {
        "page": "#eceff2",
        "card": "#ffffff",
        "ink": "#17222d",
        "soft": "#4d5b68",
        "rule": "#cfd6dc",
        "due": "#0b4f6c",
        "held": "#563f6e",
        "missed": "#8f3019",
        "done": "#3f5261",
        "act": "#0b4f6c",
        "on": "#ffffff",
        "note": "#fdf0cf",
        "note-ink": "#3b2c05",
        "quiet": "#e3e9ee",
        "high": "#563f6e",
        "low": "#7a8995",
        "dry": "#8f3019",
        "link": "#0b4f6c",
        "sun": "#f2c230",
    }
)
DARK: MappingProxyType[str, str] = MappingProxyType(
    {
        "page": "#0d1318",
        "card": "#172029",
        "ink": "#eef2f5",
        "soft": "#aebbc6",
        "rule": "#35424e",
        "due": "#0d5577",
        "held": "#563f6e",
        "missed": "#8f3019",
        "done": "#3f5261",
        "act": "#14749d",
        "on": "#ffffff",
        "note": "#40330f",
        "note-ink": "#fbeac0",
        "quiet": "#25323d",
        "high": "#b497d0",
        "low": "#7d90a3",
        "dry": "#b8432c",
        "link": "#7fc4ea",
        "sun": "#f2c230",
    }
)


def page_html(page: Page, answers: str = "") -> str:
    """Return a page as HTML; `answers` is markup that holds the place of how to answer."""
    preview = " ".join(page.work)
    template = environment().get_template("notice.html.j2")
    return template.render(page=page, preview=preview, answers=answers, say=page.tongue.say)


@cache
def environment() -> Environment:
    """Return the templates' environment, made once; Jinja2 is imported only here."""
    from jinja2 import ChoiceLoader, Environment, ModuleLoader, PackageLoader, StrictUndefined
    from jinja2 import __version__ as version

    ahead = f"{package_path[0]}/{compiled_for(version)}"
    environment = Environment(
        loader=ChoiceLoader((ModuleLoader(ahead), PackageLoader(__package__))),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    environment.globals.update(light=LIGHT, dark=DARK)
    return environment


def compiled_for(version: str) -> str:
    """Return the folder, below that of this package, of templates compiled for a Jinja2."""
    return f"ahead/jinja-{version}"


def load_templates() -> None:
    """Read what every notice is made of, so that nothing is read when it is made."""
    for name in NOTICE_TEMPLATES:
        environment().get_template(name)
