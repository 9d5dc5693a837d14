"""How a record declares its fields: default, key in files, and what editors are told.

The declarations are plain data, so that a record class costs next to nothing when Setwright
starts. `setwright.scenes.records` makes validators of them, `setwright.scenes.schema` JSON
Schema.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from setwright.scenes.quantities import plain_number

if TYPE_CHECKING:
    from collections.abc import Callable

REQUIRED: Final[Any] = object()
"""The default of a field that must be said."""


class Before:
    """Field metadata: ``func`` turns what is said in short into what is said at length."""

    __slots__ = ("func",)

    def __init__(self, func: Callable[[Any], Any]) -> None:
        self.func = func


class Field:
    """One declared field; ``annotation`` and ``key`` are known once its class is made."""

    __slots__ = ("annotation", "default", "default_factory", "description", "key")

    def __init__(
        self,
        default: Any,
        default_factory: Callable[[], Any] | None,
        description: str,
        key: str,
    ) -> None:
        self.annotation: Any = None
        self.default = default
        self.default_factory = default_factory
        self.description = description
        self.key = key

    @property
    def required(self) -> bool:
        """Whether the field must be said."""
        return self.default is REQUIRED and self.default_factory is None

    @property
    def in_full(self) -> str:
        """The description, and what holds if the field is not said: what editors show."""
        assert self.description, self
        value = self.default
        if isinstance(value, bool):
            said = "yes" if value else "no"
        elif isinstance(value, str | int):
            said = str(value)
        elif isinstance(value, Fraction):
            said = f"{plain_number(value)} ms"  # times are the only fractions with a default
        else:
            return self.description
        return f"{self.description} If not said: {said}."

    def unsaid(self) -> Any:
        """Return the value that holds if the field is not said; TypeError if it must be."""
        if self.required:
            raise TypeError(f"{self.key} must be said")
        return self.default if self.default_factory is None else self.default_factory()

    def of(self, name: str, annotation: Any) -> Field:
        """Return the declaration of the attribute ``name``.

        Its key in files has spaces where Python has underscores, unless it says another.
        """
        key = self.key or name.removesuffix("_").replace("_", " ")
        made = Field(self.default, self.default_factory, self.description, key)
        made.annotation = annotation
        return made


def field(
    *,
    default: Any = REQUIRED,
    default_factory: Callable[[], Any] | None = None,
    description: str,
    key: str = "",
) -> Any:
    """Declare one attribute of a record; its annotation says what it may hold.

    ``default_factory`` makes a default that is a list, a mapping or a record; ``key`` is for
    the few keys that do not follow from the attribute's name. Type checkers see ``Any``, as
    what stands there in the end is a value of the annotated type.
    """
    return Field(default, default_factory, description, key)
