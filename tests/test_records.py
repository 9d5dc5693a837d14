"""Records: frozen values with declared fields, which cost little when Setwright starts."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

import pytest
from pydantic_core import ValidationError

from setwright.scenes.control import Control
from setwright.scenes.rig import Rig
from setwright.scenes.switcher import Storage, Switcher

SWITCHER = {"switcher": "floor", "banks": "20", "switches": "5"}


def test_a_check_starts_without_the_model_classes_of_pydantic() -> None:
    code = "import sys, setwright.compiler.pipeline; print('pydantic.main' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert ran.stdout == "False\n"


def test_keys_follow_from_the_names_unless_they_say_another() -> None:
    keys = {name: one.key for name, one in (Switcher.model_fields | Rig.model_fields).items()}
    assert keys["bank_moves"] == "bank moves"
    assert keys["passes_on_midi"] == "passes on MIDI"
    assert keys["signal_path"] == "path"


def test_a_record_cannot_be_changed() -> None:
    record: Any = Switcher.model_validate(SWITCHER)
    with pytest.raises(AttributeError, match="a switcher is frozen: loops cannot be set"):
        record.loops = 7
    with pytest.raises(AttributeError, match="a switcher is frozen: loops cannot be deleted"):
        del record.loops
    assert record.loops == 0


def test_defaults_are_made_anew_for_each_record() -> None:
    one, other = (Switcher.model_validate(SWITCHER) for _ in range(2))
    assert one == other
    assert one.each_preset_stores == Storage() == Storage.model_validate({})
    assert one.let_pass == {}
    assert one.let_pass is not other.let_pass
    assert one != Switcher.model_validate(SWITCHER | {"loops": "7"})
    assert one != Storage()
    assert one != "floor"


def test_a_record_made_in_python_takes_its_own_names_only() -> None:
    assert Control(cc=4).cc == 4
    assert repr(Storage(programs=3)).startswith("Storage(programs=3, controls=0, ")
    with pytest.raises(TypeError, match="Storage has no slots"):
        Storage(slots=3)  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="cc must be said"):
        Control()  # type: ignore[call-arg]


def test_what_does_not_fit_is_an_error_at_its_key() -> None:
    with pytest.raises(ValidationError) as caught:
        Switcher.model_validate({"switcher": "floor", "banks": "0", "each preset stores": "x"})
    found = [(one["loc"], one["type"]) for one in caught.value.errors()]
    assert found == [
        (("banks",), "slip"),
        (("switches",), "missing"),
        (("each preset stores",), "slip"),
    ]
