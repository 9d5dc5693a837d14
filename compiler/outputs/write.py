"""Files into a folder, so that each is wholly the old one or wholly the new one.

The one way by which anything of ours gets into a user's folder: a build, a new book, schemas.
What is promised, whatever fails and wherever it is interrupted:

* Every file is written aside first; only when all of them lie there are they moved into place,
  each in one step. A full disk changes nothing.
* What a user has changed is kept beside as ``NAME.yours``, whether the file is replaced or is no
  longer made. What we did not write is refused with its name, before anything is touched.
* A build that could not finish leaves ``.setwright-unfinished`` behind, which tells the next
  one how far it came; that one says so and puts it right.
* Who comes while another writes waits for that one, and gives up with a sentence.

A file that is already as it should be is left as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from setwright.compiler.outputs.disk import folders_of, kind, named
from setwright.compiler.outputs.lock import LOCK, Turn
from setwright.compiler.outputs.manifest import (
    Manifest,
    broken_off,
    manifest_of,
    may_be_ours,
    read_manifest,
)
from setwright.compiler.outputs.moving import Move, refusal
from setwright.compiler.outputs.night_json import NIGHT_JSON
from setwright.compiler.outputs.survey import Problem, Survey, judge_folder


class Written(NamedTuple):
    """What happened to a folder; names are relative to it, with forward slashes.

    ``wrote`` are the files that are new now, ``unchanged`` those that were already as they
    should be, ``pending`` those that are still as before (or still not there) because of the
    ``problem``, ``removed`` those of an earlier build that are gone, ``kept`` the names under
    which files that a user had changed are kept. ``interrupted`` tells whether the problem was
    the user's own wish. All sentences are escaped for a terminal.
    """

    wrote: tuple[str, ...] = ()
    unchanged: tuple[str, ...] = ()
    pending: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    interrupted: bool = False
    problem: Problem | None = None


def write_outputs(
    out: Path,
    files: Mapping[str, bytes],
    sources: Iterable[Path] = (),
    *,
    part: Callable[[Manifest | None], bytes] | None = None,
) -> Written:
    """Write a build, by relative name, into the folder ``out``; `NIGHT_JSON` must be there.

    Files that the `NIGHT_JSON` in ``out`` lists and that are not in ``files`` are removed.
    ``sources`` are the files that the build was made from; ``out`` must hold none of them. For
    the rest see `write_files`.

    If ``files`` are only a part of a build, ``part`` makes `NIGHT_JSON` of what the one in ``out``
    says by then: what the new one lists besides ``files`` stays as it is. That is refused where
    the last build was broken off, for of files that stay nobody could say what they are.
    """
    if (NIGHT_JSON in files) is (part is not None):
        raise ValueError("not a name for an output", sorted(files))
    held, new = "", manifest_of(files.get(NIGHT_JSON, b""))

    def known_in(root: Path) -> dict[str, str]:
        nonlocal held
        manifest = read_manifest(root)
        held = manifest.whose if manifest is not None else ""
        known = manifest.known if manifest is not None else {}
        stays = new.files.keys() - files.keys() if new is not None and part is not None else ()
        return {name: one for name, one in known.items() if name not in stays}

    def completed(root: Path) -> dict[str, bytes]:
        nonlocal new
        if part is None:
            return {}
        content = part(read_manifest(root))
        new = manifest_of(content)
        return {NIGHT_JSON: content}

    written = write_files(
        out,
        files,
        known_in,
        completed=completed,
        last=NIGHT_JSON,
        sources=sources,
        refuse=_refuse_a_part if part is not None else lambda survey: None,
    )
    if held and new is not None and held != new.whose and written.wrote:
        notices = (f"{named(out)} held {held} until now", *written.notices)
        written = written._replace(notices=notices)
    return written


def _refuse_a_part(survey: Survey) -> Problem | None:
    if not survey.unfinished:
        return None
    return Problem(
        f"{survey.shown()} cannot be built in part, for the last build there was broken off",
        "build all of it once, without --only",
    )


def write_files(
    out: Path,
    files: Mapping[str, bytes],
    known_in: Callable[[Path], Mapping[str, str]] = lambda root: {},
    *,
    completed: Callable[[Path], Mapping[str, bytes]] = lambda root: {},
    last: str = "",
    sources: Iterable[Path] = (),
    all_or_nothing: bool = False,
    refuse: Callable[[Survey], Problem | None] = lambda survey: None,
) -> Written:
    """Write ``files``, by relative name, into the folder ``out``, which is made if need be.

    ``known_in`` is asked for the files that we left in the folder, by name, each with its
    SHA-256, or with nothing where it was changed since: they may be replaced, are kept as
    ``NAME.yours`` where changed, and are removed where they are not in ``files``. Before that
    ``completed`` is asked for files besides, which rest on what stands in the folder. ``refuse``
    may know another reason why the folder must be left alone. ``last`` is moved into place when
    everything else is there; ``all_or_nothing`` takes back on failure what was not there before.

    Never raises for what the system refuses, nor for an interrupt from the keyboard: both are
    a problem in the result. What else may come from outside, such as SystemExit, goes on after
    everything is tidied up, with a note of what is new. ValueError: a name that no output of
    ours may have.
    """
    _check_names(files)
    job = _Job(out, files, completed, known_in, last, all_or_nothing)
    try:
        problem = job.run(sources, refuse)
        job.let_go()
        return job.result(problem)
    except OSError as error:
        job.clean_up()
        return job.result(job.refused(error))
    except KeyboardInterrupt:
        job.clean_up()
        sentence = f"interrupted while writing into {named(out)}; {job.outcome()}"
        return job.result(Problem(sentence, "try again"))._replace(interrupted=True)
    except BaseException as error:
        job.clean_up()
        error.add_note(f"while writing into {named(out)}; {job.outcome()}")
        raise
    finally:
        job.let_go()


class _Job:
    """One folder being written: looked at, taken, looked at again, changed."""

    def __init__(
        self,
        out: Path,
        files: Mapping[str, bytes],
        completed: Callable[[Path], Mapping[str, bytes]],
        known_in: Callable[[Path], Mapping[str, str]],
        last: str,
        all_or_nothing: bool,
    ) -> None:
        self.out, self.files, self.known_in, self.last = out, files, known_in, last
        self.given, self.completed = files, completed
        self.all_or_nothing = all_or_nothing
        self.survey: Survey | None = None
        self.turn: Turn | None = None
        self.move: Move | None = None
        self.unfinished = ""
        self.looked = False
        self.doing = "read"

    def run(
        self, sources: Iterable[Path], refuse: Callable[[Survey], Problem | None]
    ) -> Problem | None:
        """Do everything; OSError or an interrupt may come at any step."""
        root = judge_folder(self.out, sources)
        if isinstance(root, Problem):
            return root
        problem: Problem | None = None
        vanished: OSError | None = None
        try:
            problem = self._look(root, refuse)
        except FileNotFoundError as error:
            vanished = error  # as another moves its files into place; in our turn we know
        else:
            if problem is None and self._survey.nothing_to_do() and kind(root / LOCK) == "nothing":
                return None
        # What was seen counts only when nobody else can change it any more.
        self.doing = "write"
        self.turn = Turn(root)
        try:
            has_turn = self.turn.take()
        except OSError:
            if problem is not None:
                return problem
            if vanished is not None:
                self.doing = "read"
                raise vanished from None
            raise
        if not has_turn:
            return Problem(
                f"another setwright is writing into {named(self.out)}; nothing was changed",
                "wait until it has ended, and try again",
            )
        self.doing = "read"
        problem = self._look(root, refuse)
        self.unfinished = broken_off(root, named(self.out))
        if problem is not None or self._survey.nothing_to_do():
            return problem
        self.move = Move(self._survey, all_or_nothing=self.all_or_nothing)
        self.move.run()
        return None

    @property
    def _survey(self) -> Survey:
        assert self.survey is not None
        return self.survey

    def _look(self, root: Path, refuse: Callable[[Survey], Problem | None]) -> Problem | None:
        self.looked = False
        self.files = {**self.given, **self.completed(root)}
        self.survey = Survey(self.out, root, self.files, self.known_in(root), self.last)
        problem = refuse(self.survey) or self.survey.look()
        self.looked = problem is None
        return problem

    def clean_up(self) -> None:
        """Remove what was written aside."""
        if self.move is not None:
            self.move.clean_up()

    def let_go(self) -> None:
        """Let the next one in; once more does nothing."""
        turn, self.turn = self.turn, None
        if turn is not None:
            turn.release()

    def outcome(self) -> str:
        """Return in words which files are new and which are not."""
        return self.move.outcome() if self.move is not None else "nothing was changed"

    def refused(self, error: OSError) -> Problem:
        """Return what the system refused, and what is new nevertheless."""
        if self.move is not None:
            return refusal(self.move.doing, self._survey.shown(self.move.at), error, self.outcome())
        at = self.survey.at if self.survey is not None and self.doing == "read" else ""
        return refusal(self.doing, named(self.out / at), error, self.outcome())

    def result(self, problem: Problem | None) -> Written:
        """Return what happened."""
        changed = self._survey.changed if self.looked else self.files
        new = set(self.move.new() if self.move is not None else ())
        kept = self.move.kept if self.move is not None else {}
        return Written(
            tuple(sorted(new)),
            tuple(sorted(self.files.keys() - set(changed))),
            tuple(sorted(set(changed) - new)),
            tuple(self.move.gone()) if self.move is not None else (),
            tuple(sorted(kept.values())),
            tuple(self._notices(kept, problem)),
            False,
            problem,
        )

    def _notices(self, kept: Mapping[str, str], problem: Problem | None) -> Iterator[str]:
        if self.unfinished:
            mended = "; now every file is of this one" if problem is None else ""
            yield f"{self.unfinished}{mended}"
        for name, yours in sorted(kept.items()):
            yield f"{name} was changed after it was built; that one is kept as {yours}"
        if self.move is not None:
            yield from self._survey.notices
            yield from self.move.notices


def _check_names(files: Mapping[str, bytes]) -> None:
    folded = {name.casefold() for name in files}
    folders = {folder.casefold() for name in files for folder in folders_of(name)}
    if not all(map(may_be_ours, files)):
        raise ValueError("not a name for an output", sorted(files))
    if len(folded) < len(files) or folded & folders:
        raise ValueError("two outputs have the same name", sorted(files))
