"""The command that checks a night again whenever one of its files is saved."""

from __future__ import annotations

import shutil
import sys
import time
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from setwright.compiler.console import (
    compile_typed,
    counted,
    exit_code,
    print_findings,
    say_notices,
    summed_up,
    without_units,
)
from setwright.compiler.folder import build_into, in_utf8, on_paper, only_kinds
from setwright.compiler.outputs.kinds import KINDS, Wish
from setwright.compiler.progress import Progress
from setwright.compiler.saved import (
    NO_STAMP,
    PAUSE,
    Waker,
    look,
    settled,
    touched_since,
    what_happened,
)
from setwright.compiler.terminal import INTERRUPTED, Interrupts, end_line

if TYPE_CHECKING:
    from setwright.compiler.compiled import Compiled, Unopened
    from setwright.compiler.saved import Stamps

_CANNOT_OPEN = 2
_TRIES = 5  # of reading a book that is saved while it is read
_RULE = 80  # columns at most
_UNTIL_IT_IS_BACK = "; the night is checked again when its file is back"


@click.command()
@click.argument("night", type=click.Path())
@without_units
@click.option("--out", type=click.Path(), metavar="DIR", help="Build into this folder, too.")
@only_kinds
@in_utf8
@on_paper
def watch(
    night: str,
    without: tuple[str, ...],
    out: str | None,
    only: tuple[str, ...],
    utf8: bool,
    paper: str,
) -> None:
    """Check NIGHT now, and again whenever a file that it is read from is saved.

    That is every file that the book names, even one that is not there yet. With --out the night is
    built each time that it has no errors; files that are right already are left as they are.
    Ctrl-C ends it.
    """
    if out is None and (only or utf8):
        raise click.UsageError("--only and --utf8 are about what is built: give --out DIR, too")
    try:
        with Interrupts() as interrupts:
            _Watch(night, without, out, only, Wish(utf8, paper)).run(interrupts)
    except KeyboardInterrupt:
        end_line()
        sys.exit(0)


class _Watch:
    """One night being watched. ``seen`` is how its files were when they were last read."""

    def __init__(
        self,
        night: str,
        without: tuple[str, ...],
        out: str | None,
        only: tuple[str, ...],
        wish: Wish,
    ) -> None:
        self.typed, self.without = night, without
        self.out, self.only, self.wish = out, only, wish
        self.night = Path(night)
        self.seen: Stamps = {}

    def run(self, interrupts: Interrupts) -> NoReturn:
        """Check and wait, until the user has enough of it."""
        import gc

        waker = Waker(lambda sentence: say_notices((sentence,)))
        self.seen = look([self.night])
        compiled = self._check()
        if compiled is not None and exit_code(compiled) == _CANNOT_OPEN:
            sys.exit(_CANNOT_OPEN)
        click.echo(f"watching {counted(len(self.seen), 'file')}; Ctrl-C ends it", err=True)
        while True:
            gc.collect()  # which `run` in `cli` leaves to whoever goes on for long
            while not self._saved():
                interrupts.heed()
                waker.wait(self.seen)
            if self.seen[self.night] is not None:
                self._check()

    def _check(self) -> Compiled | Unopened | None:
        """Check, print and build; return the night, or None where its file is gone."""
        from setwright.compiler.compiled import Compiled

        with Progress() as progress:
            for left in reversed(range(_TRIES)):
                began = time.time_ns()
                if self.out is not None:
                    progress.doing("the book", 1, len(self.only or KINDS) + 2)
                compiled = compile_typed(self.typed, self.without)
                progress.pause()
                # What is saved while the last of them reads is found when we wait.
                if not left or not self._saved():
                    break
                if self.seen[self.night] is None:
                    return None
            self._follow(compiled, began)
            print_findings(compiled, "text")
            if isinstance(compiled, Compiled):
                for line in summed_up(compiled):
                    click.echo(line)
            if self.out is not None:
                code = build_into(self.out, compiled, self.only, self.wish, progress)
                if code == INTERRUPTED:
                    sys.exit(code)
        return compiled

    def _saved(self) -> bool:
        """Tell whether files were saved since they were read; if so, say which, and take note."""
        look_again = partial(look, self.seen)
        if look_again() == self.seen:
            return False
        now = settled(self.seen, look_again, partial(time.sleep, PAUSE))
        what = what_happened(self.seen, now)
        self.seen = now
        if not what:
            return False
        click.echo()
        if sys.stdout.isatty():
            click.echo("-" * min(shutil.get_terminal_size().columns - 1, _RULE))
        gone = now[self.night] is None
        click.echo(f"{time.strftime('%H:%M:%S')} {what}{_UNTIL_IT_IS_BACK if gone else ''}")
        return True

    def _follow(self, compiled: Compiled | Unopened, began: int) -> None:
        """Watch from now on what the night was read from this time; ``began`` is in ns."""
        from setwright.compiler.compiled import Compiled

        sought = compiled.book.sought if isinstance(compiled, Compiled) else compiled.sought
        new = look(path for path in sought if path not in self.seen)
        # What was saved while it was read for the first time is read once more.
        first = {path: NO_STAMP if touched_since(path, began) else new[path] for path in new}
        self.seen = {path: {**first, **self.seen}[path] for path in sought}
