"""What a switcher does besides its presets' loops and messages: a book of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.outputs.collect import night_data
from setwright.compiler.pipeline import compile_night
from setwright.scenes.switcher import NameDisplay
from tests.corpus import underlined
from tests.mini import SWITCHER, compile_mini, write_night

UNITS = "fuzz: {loop: 1}\nchorus: {loop: 2}\necho: {loop: 3}\n"
EFFECTS = "lead: fuzz\nwide: chorus\nlong echo: echo\n"
SCENES = "Start: [lead]\nStraße: [wide]\nFar away: [long echo]\n"


def switcher(**said: str) -> str:
    """Return the switcher of `tests.mini` with more in its presets: names="8"."""
    stores = "".join(f", {key.replace('_', ' ')}: {value}" for key, value in said.items())
    return SWITCHER.replace("bank select: yes", f"bank select: yes{stores}")


@pytest.mark.parametrize(
    ("names", "shown"),
    [
        ("0", ["Start", "Straße", "Far away"]),
        ("8", ["Start", "Straße", "Far away"]),
        ("5", ["Start", "Straß", "Far a"]),
        ("{characters: 6, capitals: only}", ["START", "STRASS", "FAR AW"]),
        ("{characters: 6, capitals: and small}", ["Start", "Straße", "Far aw"]),
        ("{capitals: only}", ["START", "STRASSE", "FAR AWAY"]),
    ],
)
def test_names_as_the_display_shows_them(tmp_path: Path, names: str, shown: list[str]) -> None:
    compiled = compile_mini(
        tmp_path, units=UNITS, effects=EFFECTS, scenes=SCENES, switcher=switcher(names=names)
    )
    assert [one.code for one in compiled.findings] == []
    assert [preset.name for preset in night_data(compiled).presets] == shown


def test_a_short_form_means_the_characters() -> None:
    assert NameDisplay(characters=3, capitals="and small").show("Abcd") == "Abc"


SLIPS = [
    ("{characters: many, capitals: only}", "many"),
    ("{characters: 8, capitals: always}", "always"),
    ("{characters: 8, capital: only}", "capital"),
    ("{characters: 65}", "65"),
    ("eight", "eight"),
]


@pytest.mark.parametrize(("names", "text"), SLIPS)
def test_a_slip_in_names_is_one_finding(tmp_path: Path, names: str, text: str) -> None:
    night = write_night(
        tmp_path, units=UNITS, effects=EFFECTS, scenes=SCENES, switcher=switcher(names=names)
    )
    (found,) = compile_night(night).findings
    assert (found.severity.value, underlined(found)) == ("error", text)
