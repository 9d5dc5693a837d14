"""What is found wrong with a rig while its names are resolved, and what is to blame.

One slip is one finding: a unit or a control with a slip of its own is noted here, so that what
asks for it is not blamed as well.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from setwright.scenes.book import Book
from setwright.scenes.control import Control
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.names import Names
from setwright.scenes.places import KeyPath
from setwright.scenes.rig import Rig


@dataclass(slots=True)
class RigFindings:
    """Collects the findings of one rig.

    ``units`` are the names of units that something asks for. ``two_of_a_name`` are units with
    two states of one name, of which none can be relied on. ``unswitched`` are units with the
    effects that are made with them although nothing switches them.
    """

    book: Book
    found: list[Finding] = field(default_factory=list)
    units: Names = field(init=False)
    two_of_a_name: set[str] = field(default_factory=set)
    unswitched: dict[str, list[KeyPath]] = field(default_factory=dict)
    _curves: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Note which units there are; those with a slip in them stand there, too."""
        book = self.book
        self.units = Names("unit", "unknown-unit", "write it under units:", book.spot)
        for name in book.rig.units:
            self.units.define(name, book.place_of_key(("rig", "units", name)))
        for path in book.broken:
            if path[:2] == ("rig", "units") and len(path) > 2:
                self.units.define(str(path[2]))

    @property
    def rig(self) -> Rig:
        """The rig as written."""
        return self.book.rig

    def error(
        self,
        code: str,
        message: str,
        path: KeyPath,
        way_out: str,
        *also: Related,
        key: bool = False,
    ) -> None:
        """Note an error at the value of ``path``, or at its key."""
        place = self.book.place_of_key(path) if key else self.book.place(path)
        self.found.append(Finding(code, Severity.ERROR, message, place, way_out, also))

    def mistrust(self, control: Control) -> None:
        """Note that the curve of ``control`` is not to be relied on."""
        self._curves.add(id(control))

    def mistrusts(self, control: Control) -> bool:
        """Tell whether the curve of ``control`` is not to be relied on."""
        return id(control) in self._curves

    def is_faulty(self, unit: str) -> bool:
        """Tell whether something of ``unit`` was left out because of a slip."""
        return self.book.has_broken(("rig", "units", unit))
