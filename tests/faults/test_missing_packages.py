"""A package that is missing, or is there and cannot be loaded: one clear message, exit code 2, nothing written.

Or, where a build can do without, exit code 0, and what was left out and why.
"""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Literal

import pytest
from typer.testing import CliRunner

from preview.cli.app import app
from preview.paper import lettering
from test_kills import BEFORE

How = Literal["gone", "no library", "no system"]
HOWS: tuple[How, ...] = ("gone", "no library", "no system")
LIBRARY = "libxyz.so.1: cannot open shared object file: No such file or directory"
SYSTEM = "cannot load library 'xyz.dll': error 0x7e"
SAID = {"gone": "is not installed", "no library": LIBRARY, "no system": SYSTEM}


class Broken(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Some packages as they are where what they are compiled for is not there."""

    def __init__(self, packages: Sequence[str], how: How) -> None:
        self.packages = packages
        self.how = how

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if name.partition(".")[0] not in self.packages:
            return None
        return importlib.machinery.ModuleSpec(name, self)

    def create_module(self, spec: importlib.machinery.ModuleSpec) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        """As a package's own code ends: compiled code cannot be linked, or ctypes cannot load a library."""
        kind, said = ("ImportError", LIBRARY) if self.how == "no library" else ("OSError", SYSTEM)
        exec(f"raise {kind}({said!r})", module.__dict__)


def lose(packages: Sequence[str], finder: Broken) -> None:
    for name in [name for name in sys.modules if name.partition(".")[0] in packages]:
        del sys.modules[name]
    if finder.how == "gone":
        sys.modules.update(dict.fromkeys(packages))  # None is how Python notes what cannot be had
    else:
        sys.meta_path.insert(0, finder)


@contextmanager
def broken(packages: Sequence[str], how: How) -> Iterator[None]:
    held = {name: module for name, module in sys.modules.items() if name.partition(".")[0] in packages}
    finder = Broken(packages, how)
    lose(packages, finder)
    lettering._font.cache_clear()
    try:
        yield
    finally:
        if finder in sys.meta_path:
            sys.meta_path.remove(finder)
        for name in [name for name in sys.modules if name.partition(".")[0] in packages]:
            del sys.modules[name]
        sys.modules.update(held)


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scene") / "shelf.toml"
    path.write_text(BEFORE)
    return path


def words(args: str, scene: Path, out: Path) -> list[str]:
    return [word.replace("SCENE", str(scene)).replace("OUT", str(out)) for word in args.split()]


@pytest.mark.parametrize("how", HOWS)
@pytest.mark.parametrize(
    ("packages", "args", "said"),
    [
        (("manifold3d",), "export SCENE -f glb --out OUT", "the Python package manifold3d"),
        (("PIL",), "profile ogee-base -f png --out OUT", "the Python package PIL"),
        (("reportlab",), "sheet SCENE --no-pictures --out OUT.pdf", "the Python package reportlab"),
        (("fontTools",), "profile ogee-base --out OUT", "the Python package fontTools"),
        (("ezdxf",), "export SCENE -f dxf --out OUT", "the Python package ezdxf"),
        (("highspy",), "shop SCENE --out OUT", "the Python package highspy"),
        (("pxr",), "export SCENE -f usdz --out OUT", 'usd-core|molding-preview[usd]"'),
    ],
    ids=lambda value: value[0] if isinstance(value, tuple) else "",
)
def test_a_package_that_is_needed(
    packages: tuple[str, ...], how: How, args: str, said: str, tmp_path: Path, scene: Path
) -> None:
    with broken(packages, how):
        done = CliRunner().invoke(app, words(args, scene, tmp_path / "out"))
    assert isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code == 2
    for part in [*said.split("|"), SAID[how].replace("is not", "not")] if how != "gone" else said.split("|"):
        assert part in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("  fix: ") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("packages", [("mitsuba",), ("mitsuba", "mitsuba_oidn")])
def test_pictures_without_the_renderer(packages: tuple[str, ...], tmp_path: Path, scene: Path) -> None:
    with broken(packages, "gone"):
        done = CliRunner().invoke(app, words("picture SCENE --quick --out OUT.png", scene, tmp_path / "out"))
    assert done.exit_code == 2
    assert f"pictures need {' and '.join(packages).replace('_', '-')}, not installed here" in done.stderr
    assert 'fix: pip install "molding-preview[pictures]"' in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("how", HOWS)
def test_a_build_without_the_kernel(how: How, tmp_path: Path, scene: Path) -> None:
    """What still works is made, and what was left out is told, with what would mend it."""
    with broken(("cadquery", "OCP"), how):
        done = CliRunner().invoke(app, words("export SCENE -f glb -f step --out OUT", scene, tmp_path / "out"))
    assert done.exit_code == 0, done.output
    assert "left out: the solid proof and STEP: " in done.stdout
    assert {"gone": "pip install cadquery", "no library": "libxyz.so.1", "no system": SYSTEM}[how] in done.stdout
    assert (tmp_path / "out" / "models" / "shelf.glb").is_file()
    assert not (tmp_path / "out" / "models" / "shelf.step").exists()


START = """
import sys
sys.path[:0] = sys.argv[1:2]
from test_missing_packages import Broken, lose
lose(sys.argv[2:3], Broken(sys.argv[2:3], sys.argv[3]))
for name in [name for name in sys.modules if name.partition(".")[0] == "preview"]:
    del sys.modules[name]
del sys.argv[1:4]
from preview.cli import main
main()
"""


@pytest.mark.parametrize(
    ("package", "args", "how"),
    [
        ("typer", "check SCENE", "gone"),
        ("numpy", "check SCENE", "no library"),
        ("aiohttp", "show SCENE --no-browser", "no system"),
    ],
)
def test_a_package_without_which_the_command_does_not_start(package: str, args: str, how: How, scene: Path) -> None:
    here = Path(__file__).parent
    done = subprocess.run(
        [sys.executable, "-c", START, str(here), package, how, *words(args, scene, here)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 2, done.stderr
    assert f"the Python package {package} is" in done.stderr
    assert SAID[how] in done.stderr
    assert "Traceback" not in done.stderr
