"""``python -m setwright.compiler`` does what ``setwright`` does."""

from setwright.compiler.cli import run

run()
