"""The wheel that is built from the sdist holds every module, template and schema, and no more."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from tests.conftest import ROOT

BUILD = "import sys; from setuptools import build_meta; print(build_meta.build_{}(sys.argv[1]))"


def built(kind: str, source: Path, out: Path) -> Path:
    """Build an sdist or a wheel of ``source`` into ``out`` with the declared build backend."""
    pytest.importorskip("setuptools", minversion="77", reason="needs setuptools 77 or newer")
    ended = subprocess.run(
        [sys.executable, "-c", BUILD.format(kind), str(out)],
        cwd=source,
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=False,
    )
    assert ended.returncode == 0, ended.stderr
    return out / ended.stdout.splitlines()[-1]


def copied(tmp_path: Path) -> Path:
    """Return a copy of the files under version control, so that the tree stays as it is."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, encoding="utf-8", check=True
    ).stdout.split("\0")
    source = tmp_path / "source"
    for name in filter(None, listed):
        if (ROOT / name).exists():
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            target = source / name
            if (ROOT / name).is_symlink():
                target.symlink_to((ROOT / name).readlink())
            else:
                target.write_bytes((ROOT / name).read_bytes())
    return source


def test_the_wheel_from_the_sdist_is_whole(tmp_path: Path) -> None:
    sdist = built("sdist", copied(tmp_path), tmp_path)
    with tarfile.open(sdist) as archive:
        archive.extractall(tmp_path / "unpacked", filter="data")
    (inner,) = (tmp_path / "unpacked").iterdir()
    for name in ("examples/winter-dance/songs.yaml", "tests/oneill/headers.tsv", ".ci/run"):
        assert (inner / name).exists(), name
    wheel = built("wheel", inner, tmp_path)
    with zipfile.ZipFile(wheel) as archive:
        names = {name for name in archive.namelist() if ".dist-info/" not in name}
    wanted = {
        f"setwright/{path.relative_to(ROOT).as_posix()}"
        for folder in ("scenes", "compiler", "templates")
        for pattern in (
            "*.py",
            "py.typed",
            "*.j2",
            "*.typ",
            "stage.*",
            "follow.*",
            "new/*",
            "listed/*",
        )
        for path in (ROOT / folder).rglob(pattern)
        if "__pycache__" not in path.parts
    }
    assert names == wanted
