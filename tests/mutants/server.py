"""The process in which mutants are judged: each in a child of its own, which ends with it.

Runs as a script in a copy of the tree (see `judging`). Whatever a module needs is imported once,
here; a child is forked for each mutant, drops the exchanged module and everything that imports it,
and runs the judges. Nothing that a mutant does can reach the next one.

A line on stdin is a request as JSON: ``module`` (its dotted name), ``judges``, ``cpu`` (seconds
of processor time, no limit if 0). The answer is a line of JSON: ``by`` (the judge that noticed,
or an empty text) and ``cpu`` (seconds used).
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import json
import os
import resource
import shlex
import signal
import sys
import time
from pathlib import Path

WALL = 600
"""Seconds after which a child has hung, however little it computed."""

OWN = ("setwright", "tests")


def imported_by(name: str) -> set[str]:
    """Return the modules of ours that a loaded module imports, at its top or anywhere else."""
    path = getattr(sys.modules[name], "__file__", None)
    if not path or not path.endswith(".py"):
        return set()
    found: set[str] = set()
    for node in ast.walk(ast.parse(Path(path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{one.name}" for one in node.names)}
    return found


def ours() -> list[str]:
    """Return the names of all loaded modules that lie in the copy of the tree."""
    return [name for name in sys.modules if name.partition(".")[0] in OWN]


def imports_of_all() -> dict[str, set[str]]:
    """Return module → what it imports, for every loaded module of ours."""
    return {name: imported_by(name) for name in ours()}


def drop(module: str, imports: dict[str, set[str]]) -> None:
    """Forget ``module`` and everything that imports it, so that it is imported anew."""
    gone, before = {module}, 0
    while len(gone) != before:
        before = len(gone)
        gone |= {name for name, needs in imports.items() if needs & gone}
    for name in gone:
        sys.modules.pop(name, None)
        package, _, last = name.rpartition(".")
        if package in sys.modules:
            vars(sys.modules[package]).pop(last, None)


def noticed(judge: str) -> bool:
    """Run one judge in this process; return whether it fails."""
    kind, *words = shlex.split(judge)
    if kind == "corpus":
        corpus = importlib.import_module("tests.corpus")
        for code in words:
            planted, near = corpus.cases(code)
            if any(map(corpus.is_found, planted)) or any(map(corpus.is_silent, near)):
                return True
        return False
    import pytest

    options = ["-q", "-x", "--tb=no", "-p", "no:cacheprovider", "--basetemp=basetemp"]
    return pytest.main([*options, kind, *words]) not in (0, 5)


def child(module: str, judges: list[str], cpu: int, imports: dict[str, set[str]]) -> int:
    """Judge; return 0 if nobody notices, else the number of the judge, counted from 1."""
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nowhere, stream)
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
    if cpu:
        resource.setrlimit(resource.RLIMIT_CPU, (cpu, cpu))
    drop(module, imports)
    for number, judge in enumerate(judges, 1):
        failed = True  # also if it raises, or ends this process
        with contextlib.suppress(BaseException):
            failed = noticed(judge)
        if failed:
            return number
    return 0


def run(request: dict[str, object], imports: dict[str, set[str]]) -> dict[str, object]:
    """Fork a child for one request, wait for it, and return the answer."""
    judges = list(map(str, request["judges"]))  # type: ignore[call-overload]
    pid = os.fork()
    if pid == 0:
        os.setpgid(0, 0)
        code = 99
        with contextlib.suppress(BaseException):
            code = child(str(request["module"]), judges, int(str(request["cpu"])), imports)
        os._exit(code)
    deadline = time.monotonic() + WALL
    while True:
        ended, status, used = os.wait4(pid, os.WNOHANG)
        if ended:
            break
        if time.monotonic() > deadline:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(pid, signal.SIGKILL)
            os.wait4(pid, 0)
            return {"by": "for ever", "cpu": WALL}
        time.sleep(0.005)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(pid, signal.SIGKILL)  # what it started and left behind
    if os.WIFSIGNALED(status):
        by = "for ever" if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else "crash"
    else:
        code = os.WEXITSTATUS(status)
        by = "" if code == 0 else judges[code - 1] if code <= len(judges) else "crash"
    return {"by": by, "cpu": used.ru_utime + used.ru_stime}


def main() -> None:
    here = str(Path.cwd())
    sys.path[0] = here
    import hypothesis

    # The same examples every time, and no deadlines: other work on the machine is no fault.
    hypothesis.settings.register_profile("mutants", deadline=None, derandomize=True, database=None)
    hypothesis.settings.load_profile("mutants")
    for name in (
        *("pytest", "mido", "jinja2", "click.testing", "pydantic", "ruamel.yaml"),
        *("setwright.compiler.cli", "setwright.compiler.outputs.build", "setwright.scenes.schema"),
        "tests.corpus",
    ):
        importlib.import_module(name)
    for name in ours():
        path = getattr(sys.modules[name], "__file__", None)
        assert path is None or path.startswith(here), f"{path} is not in the copy"
    imports = imports_of_all()
    sys.dont_write_bytecode = True
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    out.write("ready\n")
    out.flush()
    for line in sys.stdin:
        out.write(json.dumps(run(json.loads(line), imports)) + "\n")
        out.flush()


if __name__ == "__main__":
    main()
