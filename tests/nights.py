"""Nights that can be opened, compiled."""

from __future__ import annotations

from pathlib import Path

from setwright.compiler.compiled import Compiled
from setwright.compiler.pipeline import compile_night


def whole(path: Path, without: frozenset[str] = frozenset()) -> Compiled:
    """Return the night at ``path`` compiled; it must be one whose files can be read."""
    compiled = compile_night(path, without)
    assert isinstance(compiled, Compiled), compiled.findings
    return compiled
