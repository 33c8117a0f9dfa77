"""What can go wrong, in three families; of ours this module imports only the catalogue.

* `GrowerError`: the grower has to mend something. No traceback; every problem at once.
* `OperationalError`: a network, a server or a disk did not do its part. It says whether
  trying again makes sense (`Outlook`).
* `Defect`: Strawbell itself is wrong. The only family that deserves a traceback.

`cli` turns each family into sentences and an exit code in one place.
"""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct

from strawbell.words.catalogue import BRITISH


class StrawbellError(Exception):
    """The root of every error that Strawbell raises on purpose."""


class Problem(Struct, frozen=True):
    """One thing the grower has to mend, in the grower's words.

    `where` names the file and the key (``config.toml: [[gardens]] number 2, latitude``), `found`
    what stood there (never a secret), `allowed` what may stand there, `remedy` what to do.
    """

    what: str
    where: str = ""
    found: str = ""
    allowed: str = ""
    remedy: str = ""

    def sentence(self) -> str:
        """Return the problem as one line: where, what, found, allowed, remedy.

        `what` may be a sentence or the beginning of one: its full stop gives way to what follows.
        """
        return BRITISH.say(
            "problem.line",
            where=self.where,
            what=self.what.rstrip("."),
            found=self.found,
            allowed=self.allowed,
            remedy=self.remedy,
        )


class GrowerError(StrawbellError):
    """Something the grower has to mend; carries all problems found in one run."""

    def __init__(self, problems: tuple[Problem, ...] | list[Problem] | Problem) -> None:
        """Keep `problems` as a tuple; a single problem may be given by itself."""
        self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        """Return a line a problem; they are put into words only when somebody reads them."""
        return "\n".join(problem.sentence() for problem in self.problems)


class Outlook(StrEnum):
    """What may become of a failed operation."""

    FOR_NOW = "for-now"
    """Surely not done; trying again later makes sense."""
    FOR_GOOD = "for-good"
    """Surely not done; trying again the same way makes no sense."""
    UNKNOWN = "unknown"
    """It may or may not have been done; treated as not done, a recognisable double is accepted."""


class OperationalError(StrawbellError):
    """A network, a server or a disk did not do its part."""

    def __init__(self, message: str, outlook: Outlook = Outlook.FOR_NOW) -> None:
        """Say what failed in one sentence, and whether trying again makes sense."""
        self.outlook = outlook
        super().__init__(message)


class Defect(StrawbellError):
    """Strawbell itself is wrong; report it."""
