"""Plain data: what the records of a night are made of, and how amounts and places stand in them."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


class Data(BaseModel):
    """A frozen record of plain values."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class AmountData(Data):
    """An amount of something, or a position that has a name."""

    words: str = Field(description="As a player reads it: 489.1 ms.")
    value: float | None = Field(description="The number; null for a position.")
    unit: str | None = Field(description="ms, %, Hz and so on; null for a position.")


class FootData(Data):
    """A unit that the foot brings into a position."""

    unit: str
    position: str

    def __str__(self) -> str:
        return f"{self.unit} {self.position}"


class PlaceData(Data):
    """A switch of the switcher."""

    bank: int = Field(description="Counted from 1.", ge=1)
    switch: int = Field(description="Counted from 1.", ge=1)
    bank_shown: str = Field(description="As the switcher shows it.")
    switch_shown: str = Field(description="As the switcher shows it.")
