"""What several test modules share: the option that renews goldens, and the demo's folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "examples" / "winter-dance"
GOLDEN = Path(__file__).resolve().parent / "golden"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--renew", action="store_true", help="write the golden files anew")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compare a text with ``tests/golden/NAME``, or write it there with ``--renew``."""

    def compare(name: str, text: str) -> None:
        path = GOLDEN / name
        if request.config.getoption("--renew"):
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
        assert text == path.read_text(encoding="utf-8")

    return compare
