"""What grows in the seasons that are played whole."""

from __future__ import annotations

from strawbell.agronomy.crop_table import CROPS
from strawbell.model.garden import Method, Planting


def crop(name: str, plants: int, method: Method, follows: str | None = None) -> Planting:
    """Return a planting of a built-in crop."""
    return Planting(CROPS[name], plants, method, None, follows)


SPRING = (
    crop("spinach", 60, Method.SEED),
    crop("cucumber", 12, Method.TRANSPLANT, "spinach"),
)
SUMMER = (
    crop("summer squash", 6, Method.TRANSPLANT),
    crop("kohlrabi", 40, Method.TRANSPLANT, "summer squash"),
)
PATIENT = (
    crop("lettuce", 24, Method.TRANSPLANT),
    crop("tomato", 12, Method.TRANSPLANT, "lettuce"),
)
HASTY = (SUMMER[0],)
