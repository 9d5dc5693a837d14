"""``python -m setwright.compiler`` does what ``setwright`` does."""

from setwright.compiler.cli import main

main(prog_name="setwright")
