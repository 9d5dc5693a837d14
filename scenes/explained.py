"""A code in words: what it finds, why that hurts, what to do, and an example.

Every code that is ever printed has one of these, beside the room that prints it; they are what
``setwright checks`` prints and what the reference page holds. Nothing that reads or compiles a
book needs them, so nothing but a check (whose way out they hold) imports them before it has to.
"""

from __future__ import annotations

from typing import NamedTuple

from setwright.scenes.finding import Severity


class Explained(NamedTuple):
    """A fault in words: its code, how much it weighs, what, why it hurts, what to do, an example.

    ``brief`` says it in one line; ``example`` is an excerpt of a book with the fault in it (of a
    slip: which file it is in, in the first line, and all that leads there from its margin);
    ``caution`` says what can hurt a person; what ``can_pass`` is not may not be let pass.
    ``sometimes`` are the severities that it may also have, and ``finds`` says when.
    ``changes_sound`` tells that what it finds may bring a unit where no scene wants it: where it is
    let pass, nothing of that unit is proven.
    """

    code: str
    severity: Severity
    finds: str
    hurts: str
    do: str
    example: str
    caution: str = ""
    brief: str = ""
    can_pass: bool = True
    sometimes: tuple[Severity, ...] = ()
    changes_sound: bool = False

    @property
    def beware(self) -> str:
        """A few words of the caution, for the finding itself."""
        return "compare with the labels before you connect anything" if self.caution else ""

    @property
    def weighs(self) -> str:
        """Its severities in words: ``warning or note``."""
        return " or ".join(one.value for one in (self.severity, *self.sometimes))


def slip(
    code: str,
    *,
    brief: str,
    finds: str,
    hurts: str,
    do: str,
    example: str,
    severity: Severity = Severity.ERROR,
    sometimes: tuple[Severity, ...] = (),
) -> Explained:
    """Return the explanation of what is found before the checks, and so is never let pass."""
    return Explained(
        code, severity, finds, hurts, do, example, "", brief, can_pass=False, sometimes=sometimes
    )
