"""Files into a folder, so that each is wholly the old one or wholly the new one.

Runs last. What is promised, whatever fails and wherever it is interrupted:

* Every file is written aside first, in the folder where it belongs, and synced. Only when all
  of them lie there are they moved into place, each in one step. A full disk changes nothing.
* ``night.json`` comes last. It lists every file with its SHA-256, so a folder in which all of
  them match is one build, and whole.
* Only what an earlier build left is replaced or removed. Anything else in the way is refused
  with its name, before anything is touched. Links are not followed: one that stands where a
  file belongs is replaced, one where a folder belongs is refused.
* A build that could not finish leaves ``.setwright-unfinished`` behind, which tells the next
  one which files it had made; that one tidies up.

A file that is already as it should be is left as it is.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import secrets
import stat
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from setwright.compiler.outputs.names import is_safe
from setwright.compiler.outputs.night_json import NIGHT_JSON
from setwright.scenes.finding import visible

TRACE = ".setwright-unfinished"
"""What a build that could not finish leaves behind: its files, and their SHA-256."""

_LARGEST = 256 * 1024 * 1024  # bytes; a whole book of 200 songs takes about 6 MB
_BINARY = getattr(os, "O_BINARY", 0)
# A folder that is a link without being a symbolic one: IO_REPARSE_TAG_MOUNT_POINT in MS-FSCC,
# section 2.1.2.1 (from memory).
_JUNCTION = 0xA0000003

_NOTHING_TO_REMOVE = {errno.ENOENT, errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR}

_T = TypeVar("_T")


class Problem(NamedTuple):
    """Why files could not be written: one sentence, and what to do."""

    sentence: str
    way_out: str

    def __str__(self) -> str:
        return f"{self.sentence}; {self.way_out}"


class Written(NamedTuple):
    """What happened to a folder; names are relative to it, with forward slashes.

    ``wrote`` are the files that are new now, ``unchanged`` those that were already as they
    should be, ``pending`` those that are still as before (or still not there) because of the
    ``problem``, ``removed`` those of an earlier build that are gone. All sentences are escaped
    for a terminal.
    """

    wrote: tuple[str, ...] = ()
    unchanged: tuple[str, ...] = ()
    pending: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    problem: Problem | None = None


def write_outputs(out: Path, files: Mapping[str, bytes], sources: Iterable[Path] = ()) -> Written:
    """Write ``files``, by relative name, into the folder ``out``; `NIGHT_JSON` must be there.

    ``sources`` are the files that the build was made from; ``out`` must hold none of them.
    Never raises for what the system refuses, nor for an interrupt from the keyboard: both are
    a problem in the result. What else may come from outside, such as SystemExit, goes on after
    everything is tidied up, with a note of what is new. ValueError: a name that no output of
    ours may have.
    """
    _check_names(files)
    job = _Job(out, files)
    try:
        problem = job.plan(sources)
        if problem is not None:
            return job.result(problem)
        job.run()
        return job.result(None)
    except OSError as error:
        job.clean_up()
        return job.result(job.refused(error))
    except KeyboardInterrupt:
        job.clean_up()
        sentence = f"interrupted while writing into {job.shown()}; {job.outcome()}"
        return job.result(Problem(sentence, "build again"))
    except BaseException as error:
        job.clean_up()
        error.add_note(f"while writing into {job.shown()}; {job.outcome()}")
        raise


def check_folder(out: Path) -> list[str]:
    """Return what is wrong with the build in ``out``, in sentences; nothing if it is whole."""
    shown = _quoted(out)
    try:
        manifest = read_manifest(out)
        if manifest is None:
            return [f"{shown} holds no build; name the folder that you built into"]
        wrong = [
            name for name, digest in sorted(manifest.files.items()) if _digest(out / name) != digest
        ]
        missing = [name for name in wrong if _kind(out / name) == "nothing"]
        changed = [name for name in wrong if name not in missing]
        unfinished = _kind(out / TRACE) == "file"
    except (OSError, ValueError) as error:
        return [f"cannot read {shown}: {_reason(error)}"]
    sentences = []
    if unfinished:
        sentences.append(f"the last build into {shown} was not finished; build again")
    if missing:
        sentences.append(f"missing in {shown}: {_listed(missing)}; build again")
    if changed:
        sentences.append(f"not as built in {shown}: {_listed(changed)}; build again")
    return sentences


class Manifest(NamedTuple):
    """What a ``night.json`` says of its folder: whose it is, and each file's SHA-256."""

    whose: str
    files: dict[str, str]


def read_manifest(out: Path) -> Manifest | None:
    """Return what the ``night.json`` of a folder lists; None where there is none of ours.

    OSError: it cannot be read.
    """
    return _manifest_of(_read(out / NIGHT_JSON))


def _manifest_of(content: bytes) -> Manifest | None:
    data = _json_object(content)
    files = data.get("files")
    if not isinstance(data.get("setwright"), str) or not isinstance(files, dict):
        return None
    night, rig = (_quoted(data.get(key)) for key in ("night", "rig"))
    # A name that leads elsewhere was never ours.
    mine = {name: one for name, one in files.items() if is_safe(name) and isinstance(one, str)}
    return Manifest(f"{night} on {rig}", mine)


class _Trace(NamedTuple):
    """What an unfinished build left: the mark of its temporary files, and its files.

    Each file may be there as that build made it, or as one before it did which could not
    finish either: hence several digests for one name.
    """

    token: str
    files: dict[str, list[str]]


def _trace_of(content: bytes) -> _Trace | None:
    """Return the trace; None where it was cut off, so that nothing else was touched after it."""
    data = _json_object(content)
    token, files = data.get("token"), data.get("files")
    if not isinstance(token, str) or not token.isalnum() or not isinstance(files, dict):
        return None
    return _Trace(
        token,
        {
            name: [one for one in digests if isinstance(one, str)]
            for name, digests in files.items()
            if is_safe(name) and isinstance(digests, list)
        },
    )


class _Job:
    """One folder being written: `plan` only looks, `run` changes, `clean_up` may always follow."""

    def __init__(self, out: Path, files: Mapping[str, bytes]) -> None:
        self.out = out
        self.files = files
        self.digests = {name: _sha256(content) for name, content in files.items()}
        self.root = out
        self.known: dict[str, str] = {}
        self.left: _Trace | None = None
        self.seen: dict[str, str] = {}
        self.changed: list[str] = []
        self.stale: list[str] = []
        self.no_longer: list[str] = []
        self.notices: list[str] = []
        self.token = secrets.token_hex(4)
        self.made_folders: list[Path] = []
        self.at = ""
        self.doing = "read"

    # Looking.

    def plan(self, sources: Iterable[Path]) -> Problem | None:
        """Find out what has to be done, or why it must not be; nothing is changed."""
        problem = self._judge_folder(sources)
        if problem is not None:
            return problem
        manifest = read_manifest(self.root)
        if manifest is None and _kind(self.root / NIGHT_JSON) == "file":
            return self._foreign(NIGHT_JSON)
        self.known = manifest.files if manifest is not None else {}
        self.left = _trace_of(_read(self.root / TRACE))
        for name in self.files:
            self.at = name
            problem = self._judge(name)
            if problem is not None:
                return problem
        # The list of files is moved into place when all that it lists is there.
        self.changed.sort(key=lambda name: (name == NIGHT_JSON, name))
        self._find_stale()
        self._say_what_was_there(manifest)
        return None

    def _judge_folder(self, sources: Iterable[Path]) -> Problem | None:
        """Judge the folder itself, and set ``root`` to where it really is."""
        if "\0" in str(self.out):
            return Problem(f"no folder can be called {self.shown()}", "name another folder")
        try:
            self.root = self.out.resolve()
        except RuntimeError:  # before Python 3.13: links that lead in a circle
            return Problem(f"{self.shown()} is a link to nowhere", "name another folder")
        kind = _kind(self.root)
        if kind == "link" or (kind == "nothing" and self.out.is_symlink()):
            return Problem(f"{self.shown()} is a link to nowhere", "name another folder")
        if kind not in {"folder", "nothing"}:
            return Problem(f"{self.shown()} is a file, not a folder", "name another folder")
        for source in sources if kind == "folder" else ():
            if any(above.exists() and self.root.samefile(above) for above in _above(source)):
                return Problem(
                    f"{self.shown()} holds {_quoted(source)}, and the build reads it",
                    "name a folder that holds nothing of the book",
                )
        for above in self.root.parents:
            inside = self.root.relative_to(above).as_posix() + "/"
            outer = read_manifest(above)
            if outer is not None and any(name.startswith(inside) for name in outer.files):
                return Problem(
                    f"{self.shown()} is a part of the build in {_quoted(above)}",
                    "name that folder, or one outside it",
                )
        return None

    def _judge(self, name: str) -> Problem | None:
        """Judge what stands where a file belongs."""
        move = "move it away, or name another folder"
        for folder in _folders_of(name):
            kind = _kind(self.root / folder)
            if kind not in {"folder", "nothing"}:
                what = "a link" if kind == "link" else "a file"
                return Problem(f"{self.shown(folder)} is {what}, and should be a folder", move)
        path = self.root / name
        kind = _kind(path)
        if kind == "folder":
            return Problem(f"{self.shown(name)} is a folder, and should be a file", move)
        if kind == "other":
            return self._foreign(name)
        if kind == "link":
            self.notices.append(f"{name} was a link; what it led to is as it was")
        if kind == "file":
            self.seen[name] = _digest(path)
            if self.seen[name] == self.digests[name]:
                return None
            if not self._is_ours(name):
                return self._foreign(name)
        self.changed.append(name)
        return None

    def _is_ours(self, name: str) -> bool:
        """Tell whether a file may be overwritten: an earlier build lists it, or has left it."""
        return name == NIGHT_JSON or name in self.known or self._is_left(name)

    def _is_left(self, name: str) -> bool:
        return self.seen[name] in self._left_files().get(name, ())

    def _left_files(self) -> dict[str, list[str]]:
        return self.left.files if self.left is not None else {}

    def _foreign(self, name: str) -> Problem:
        return Problem(
            f"{self.shown(name)} is not from an earlier build, and would be overwritten",
            "move it away, or name another folder",
        )

    def _find_stale(self) -> None:
        """Find what an earlier build made and this one does not; what was changed by hand stays."""
        self.no_longer = sorted({*self.known, *self._left_files()} - self.files.keys())
        for name in self.no_longer:
            path = self.root / name
            if not self._is_below_root(name) or _kind(path) != "file":
                continue
            self.at = name
            self.seen[name] = _digest(path)
            if self.seen[name] == self.known.get(name) or self._is_left(name):
                self.stale.append(name)
            else:
                self.notices.append(f"{name} is left as it is: it was changed after it was built")

    def _is_below_root(self, name: str) -> bool:
        """Tell whether no link on the way to a file leads elsewhere."""
        kinds = {_kind(self.root / folder) for folder in _folders_of(name)}
        return kinds <= {"folder", "nothing"}

    def _say_what_was_there(self, manifest: Manifest | None) -> None:
        new = _manifest_of(self.files[NIGHT_JSON])
        if manifest is not None and new is not None and manifest.whose != new.whose:
            self.notices.append(f"{self.shown()} held {manifest.whose} until now")
        if self.left is not None:
            self.notices.append(f"the last build into {self.shown()} was not finished")
        edited = [
            name
            for name in self.changed
            if name in self.seen and self.seen[name] != self.known.get(name, self.seen[name])
            if not self._is_left(name)
        ]
        if edited:
            self.notices.append(f"changed since they were built: {_listed(edited)}")

    # Changing.

    def run(self) -> None:
        """Do what `plan` found; OSError or an interrupt may come at any step."""
        if not self.changed and not self.stale and self.left is None:
            return
        self.doing, self.at = "write", ""
        self._tidy_after_another()
        self._make_folders()
        self._leave_trace()
        for name in self.changed:
            self.at = name
            _write_new(self._aside(name), self.files[name])
        for name in self.changed:
            self.at = name
            if name == NIGHT_JSON:
                self._sync_folders()
            self._aside(name).replace(self.root / name)
        _sync_folder(self.root)
        self._tidy()

    def _tidy_after_another(self) -> None:
        """Remove what a build that was killed had written aside."""
        if self.left is None:
            return
        for name in (*self.left.files, NIGHT_JSON):
            if self._is_below_root(name):
                _remove(self._aside(name, self.left.token))

    def _aside(self, name: str, token: str = "") -> Path:
        """Return where a file is written before it is moved into place."""
        path = self.root / name
        return path.with_name(f".{path.name}.{token or self.token}")

    def _make_folders(self) -> None:
        below = {folder for name in self.changed for folder in _folders_of(name)}
        above = [self.root, *self.root.parents]
        for folder in [*reversed(above), *(self.root / one for one in sorted(below))]:
            if not folder.exists():
                self.made_folders.append(folder)
                folder.mkdir()

    def _leave_trace(self) -> None:
        files = {name: [digest] for name, digest in self.digests.items() if name != NIGHT_JSON}
        files |= {name: [] for name in self.no_longer}  # for the sake of their folders
        for name, digest in self.seen.items():
            if name in self.stale or self._is_left(name):
                files[name].append(digest)
        trace = {
            "what": "a build into this folder that was not finished; build again",
            "token": self.token,
            "files": files,
        }
        self.at = TRACE
        # Its name aside is always the same: this file is what others are found by.
        aside = self.root / f"{TRACE}.new"
        _remove(aside)
        _write_new(aside, json.dumps(trace, indent=1).encode("ascii"))
        aside.replace(self.root / TRACE)
        _sync_folder(self.root)

    def _sync_folders(self) -> None:
        for folder in sorted({folder for name in self.changed for folder in _folders_of(name)}):
            _sync_folder(self.root / folder)
        _sync_folder(self.root)

    def _tidy(self) -> None:
        """Remove what is no longer made, the folders that this leaves empty, and the trace."""
        self.doing = "remove"
        inside = filter(self._is_below_root, self.no_longer)
        folders = {folder for name in inside for folder in _folders_of(name)}
        steps: list[tuple[str, Callable[[Path], None]]] = [(one, Path.unlink) for one in self.stale]
        # The innermost folders first; one that holds anything stays.
        steps += [(one, Path.rmdir) for one in sorted(folders, key=len, reverse=True)]
        refused = False
        for name, remove in steps:
            self.at = name
            try:
                remove(self.root / name)
            except OSError as error:
                if error.errno not in _NOTHING_TO_REMOVE:
                    refused = True
                    why = _reason(error)
                    self.notices.append(f"{name} of an earlier build could not be removed: {why}")
        if not refused:
            self.at = TRACE
            (self.root / TRACE).unlink(missing_ok=True)

    # Afterwards.

    def clean_up(self) -> None:
        """Remove what was written aside; and the trace, if nothing else was changed."""
        if self.doing == "read":
            return
        ours = [*map(self._aside, self.changed), self.root / f"{TRACE}.new"]
        if self.left is None and not self._new():
            ours.append(self.root / TRACE)
        for path in ours:
            _insist(partial(_remove, path), False)
        for folder in reversed(self.made_folders):
            _insist(partial(_remove_folder, folder), None)

    def _new(self) -> list[str]:
        """Return which of the files that had to change are new, by looking at them."""
        return [name for name in self.changed if self._is_new(name)]

    def _is_new(self, name: str) -> bool:
        return _insist(partial(_digest, self.root / name), "") == self.digests[name]

    def _gone(self) -> list[str]:
        """Return which files of an earlier build are gone."""
        stale = [(name, self.root / name) for name in self.stale]
        return [name for name, path in stale if _insist(partial(_kind, path), "") == "nothing"]

    def outcome(self) -> str:
        """Return in words which files are new and which are not."""
        new = self._new()
        pending = [name for name in self.changed if name not in new]
        gone = self._gone()
        if not new and not gone:
            return "nothing was changed"
        if pending:
            return f"new: {_listed(new)}; as before: {_listed(pending)}"
        old = [name for name in self.stale if name not in gone]
        still = f"; still there from an earlier build: {_listed(old)}" if old else ""
        return f"every file is new{still}"

    def refused(self, error: OSError) -> Problem:
        """Return what the system refused, and what is new nevertheless."""
        way_out = {
            errno.ENOSPC: "make room on the disk, or name another folder",
            errno.EFBIG: "make room on the disk, or name another folder",
            getattr(errno, "EDQUOT", -1): "make room on the disk, or name another folder",
            errno.EACCES: "close it where it is open, or name a folder that you may write into",
            errno.EPERM: "close it where it is open, or name a folder that you may write into",
            errno.EROFS: "name a folder that you may write into",
        }.get(error.errno or 0, "check the folder and its disk")
        sentence = f"cannot {self.doing} {self.shown(self.at)}: {_reason(error)}; {self.outcome()}"
        return Problem(sentence, way_out)

    def result(self, problem: Problem | None) -> Written:
        """Return what happened."""
        if self.doing == "read" and problem is not None:
            return Written(pending=tuple(sorted(self.files)), problem=problem)
        new = set(self._new() if problem is not None else self.changed)
        return Written(
            tuple(sorted(new)),
            tuple(sorted(self.files.keys() - set(self.changed))),
            tuple(sorted(set(self.changed) - new)),
            tuple(self._gone()),
            tuple(self.notices),
            problem,
        )

    def shown(self, name: str = "") -> str:
        """Return the folder, or a file in it, as the user named it, quoted."""
        return _quoted(self.out / name)


def _check_names(files: Mapping[str, bytes]) -> None:
    folded = {name.casefold() for name in files}
    folders = {folder.casefold() for name in files for folder in _folders_of(name)}
    if NIGHT_JSON not in files or not all(map(is_safe, files)):
        raise ValueError("not a name for an output", sorted(files))
    if len(folded) < len(files) or folded & folders:
        raise ValueError("two outputs have the same name", sorted(files))


def _folders_of(name: str) -> list[str]:
    """Return the folders on the way to a file, outermost first: ``a/b/c.mid`` → ``a``, ``a/b``."""
    parts = name.split("/")
    return ["/".join(parts[:depth]) for depth in range(1, len(parts))]


def _above(source: Path) -> Iterator[Path]:
    """Yield all folders in which a file lies, by the name it was given and where it really is."""
    yield from source.absolute().parents
    yield from source.resolve().parents


def _kind(path: Path) -> str:
    """Return what stands at ``path``, not following a link: file, folder, link, other, nothing."""
    try:
        status = path.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return "nothing"
    if stat.S_ISLNK(status.st_mode) or getattr(status, "st_reparse_tag", 0) == _JUNCTION:
        return "link"
    if stat.S_ISDIR(status.st_mode):
        return "folder"
    return "file" if stat.S_ISREG(status.st_mode) else "other"


def _read(path: Path) -> bytes:
    """Return the content of an ordinary file of a sane size; nothing for anything else."""
    if _kind(path) != "file" or path.lstat().st_size > _LARGEST:
        return b""
    return path.read_bytes()


def _json_object(content: bytes) -> dict[str, Any]:
    try:
        data = json.loads(content)
    except (ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _digest(path: Path) -> str:
    """Return the SHA-256 of an ordinary file; nothing for anything else."""
    if _kind(path) != "file":
        return ""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _write_new(path: Path, content: bytes) -> None:
    """Write a file that is not there yet, down to the disk."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)
    try:
        rest = memoryview(content)
        while rest:
            rest = rest[os.write(handle, rest) :]
        os.fsync(handle)
    finally:
        os.close(handle)


def _sync_folder(folder: Path) -> None:
    """Bring a folder's names down to the disk, where the system can: else it does so later."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _remove(path: Path) -> bool:
    """Remove a file of ours; return whether it was there and the system let us."""
    try:
        path.unlink()
    except OSError:
        return False
    return True


def _remove_folder(folder: Path) -> None:
    with suppress(OSError):  # something else is in it
        folder.rmdir()


def _insist(step: Callable[[], _T], otherwise: _T) -> _T:
    """Do a step of tidying up even if the user goes on interrupting; ``otherwise`` if it fails."""
    for _ in range(20):
        try:
            return step()
        except KeyboardInterrupt:
            continue
        except OSError:
            break
    return otherwise


def _quoted(name: object) -> str:
    """Return a path or name for a sentence; whole, for its end matters most."""
    return f"‘{visible(str(name))}’"


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error) or "no reason given").lower()


def _listed(names: list[str]) -> str:
    """Return some names in words, the first few of many."""
    shown, more = names[:6], len(names) - 6
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")
