"""The palette of all pictures, in light and in dark, and the style sheet that puts it in.

Colours are data, so that a test can measure every contrast. "f-held" fills with a role, "s-held"
draws a line with it; one style sheet serves light and dark.
"""

from __future__ import annotations

from types import MappingProxyType

from strawbell.words.html import DARK, LIGHT

LIGHT_INKS: MappingProxyType[str, str] = MappingProxyType(
    {
        **{role: LIGHT[role] for role in ("page", "card", "ink", "soft", "rule", "on", "link")},
        "due": "#0b4f6c",
        "held": "#6b4f88",
        "missed": "#8f3019",
        "edge": "#7a6d50",
        "straw": "#ecd9a0",
        "rest": "#f4ecd8",
        "leaf": "#c3dfb4",
        "fruit": "#f3c6b2",
        "root": "#d6cbe6",
        "warmth": "#e3a36a",
        "wet": "#2f7f9c",
        "cold": "#27548f",
        "today": "#8c1d5b",
    }
)
DARK_INKS: MappingProxyType[str, str] = MappingProxyType(
    {
        **{role: DARK[role] for role in ("page", "card", "ink", "soft", "rule", "link")},
        "on": DARK["page"],
        "due": "#7fc4ea",
        "held": "#c3a6e0",
        "missed": "#f29c92",
        "edge": "#a4987a",
        "straw": "#4d4220",
        "rest": "#2e2a1c",
        "leaf": "#2c4a26",
        "fruit": "#5a3022",
        "root": "#40345a",
        "warmth": "#b0753d",
        "wet": "#62b6d1",
        "cold": "#8fbdf0",
        "today": "#f09ac9",
    }
)


def picture_style() -> str:
    """Return the style sheet of all pictures, in light and in dark."""
    light, dark = (
        ";".join(f"--{role}:{colour}" for role, colour in inks.items())
        for inks in (LIGHT_INKS, DARK_INKS)
    )
    roles = "".join(
        f".f-{role}{{fill:var(--{role})}}.s-{role}{{stroke:var(--{role})}}" for role in LIGHT_INKS
    )
    return (
        f":root{{color-scheme:light dark;{light}}}\n"
        f"@media (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
        f"{roles}.no-fill{{fill:none}}.dashed{{stroke-dasharray:4 3}}\n"
        ".halo{stroke:var(--card);stroke-width:4px;paint-order:stroke}\n"
    )
