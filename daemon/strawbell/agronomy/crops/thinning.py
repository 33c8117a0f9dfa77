"""When seedlings are thinned, and to what distance.

References:
[1] Common practice: seedlings are thinned once they carry their first true leaves, a week and a
    half or so after they came up, by snipping rather than pulling, so that neighbours keep their
    roots.
"""

from __future__ import annotations

from datetime import date, timedelta

from msgspec import Struct

from strawbell.model.crops import Crop
from strawbell.model.garden import Method

TRUE_LEAVES_DAYS = 10
"""Days from emergence to the first true leaves [1]."""


class Thinning(Struct, frozen=True):
    """When seedlings are thinned, and the distance left between them [cm]."""

    on: date
    to_cm: float


def thinning(crop: Crop, emerged_on: date | None, method: Method) -> Thinning | None:
    """Return when and to what distance a sowing is thinned.

    Args:
        crop: The crop; one without a distance to thin to is sown at its final distance.
        emerged_on: Garden-local date on which it came up, seen or expected at the latest; None is
            unknown.
        method: How it was planted.

    Returns:
        Ten days after emergence. None for transplants, for crops sown at their distance, and while
        emergence is unknown.

    Source: common practice.
    """
    if method is not Method.SEED or crop.thin_to_cm is None or emerged_on is None:
        return None
    return Thinning(emerged_on + timedelta(days=TRUE_LEAVES_DAYS), crop.thin_to_cm)
