"""The rooms of preview/ and the arrows between them, read from the source, so that the map cannot drift.

A room is a module or a folder directly under preview/; the folder models/ holds two. Imports count wherever
they stand: at the top, inside a function, under TYPE_CHECKING, or by name through importlib.
"""

from __future__ import annotations

import ast
import importlib
import json
import re
import subprocess
import sys
import tomllib
import types
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "preview"
# The page's script has a build hook beside it, which runs when the project is packed and is not in the package.
MODULES = sorted(path for path in PACKAGE.rglob("*.py") if PACKAGE / "client" / "web" not in path.parents)
FOLDERS = sorted(path.parent for path in MODULES if path.name == "__init__.py" and path.parent != PACKAGE)

# Every arrow points to a lower floor. `preview` is the package's __init__ (its version), `models` the
# folder's.
FLOORS = {
    "cli": 12,
    "library": 12,
    "bench": 11,
    "jobs": 11,
    "notebook": 11,
    "review": 10,
    "sheet": 10,
    "client": 9,
    "exports": 9,
    "live": 9,
    "pages": 9,
    "drafting": 8,
    "approval": 7,
    "changes": 7,
    "cutlist": 7,
    "vantage": 7,
    "build": 6,
    "blanks": 5,
    "checks": 5,
    "shop": 5,
    "editing": 4,
    "models": 4,
    "models.mesh": 4,
    "models.solid": 4,
    "joinery": 3,
    "scene": 3,
    "drawings": 2,
    "paper": 2,
    "runs": 2,
    "sticks": 2,
    "profiles": 1,
    "disk": 0,
    "entries": 0,
    "limits": 0,
    "shipped": 0,
    "units": 0,
    "errors": -1,
    "preview": -1,
}
# What `import preview` offers a program, and reads only when it is asked for.
FRONT_DOOR = ("preview", "library")
SPLIT = {"models"}  # folders whose own folders are the rooms

# The arrows there are, no more and no fewer: change this in the commit that changes one, and say why.
ARROWS = {
    "cli": "approval bench build changes checks client cutlist drafting editing errors exports jobs joinery live "
    "preview profiles review runs scene sheet shipped shop units",
    "library": "approval build cutlist errors exports jobs joinery models.solid profiles runs scene",
    "jobs": "approval build changes checks client drafting errors exports models.solid review scene sheet",
    "notebook": "client review scene units",
    "review": "approval build changes checks client errors exports scene",
    "bench": "blanks build cutlist drafting errors exports joinery pages paper preview profiles runs scene shop sticks "
    "units",
    "sheet": "build checks client drafting errors exports joinery pages paper profiles scene shop units",
    "pages": "drafting paper scene units",
    "drafting": "build errors joinery models.mesh paper profiles runs scene units vantage",
    "exports": "build checks disk drafting entries errors joinery models.mesh paper preview profiles runs scene shop "
    "units vantage",
    "client": "build checks errors joinery models.mesh paper profiles runs scene shop units vantage",
    "live": "errors",
    "changes": "build joinery profiles runs scene units",
    "approval": "disk errors preview",
    "cutlist": "blanks build errors joinery profiles runs scene shop sticks units",
    "vantage": "build checks joinery models.mesh profiles runs scene units",
    "build": "checks errors joinery models.mesh profiles runs scene shop units",
    "blanks": "errors joinery profiles units",
    "checks": "disk errors joinery limits models.mesh models.solid profiles runs",
    "shop": "errors joinery profiles scene units",
    "models.mesh": "joinery limits profiles runs scene units",
    "models.solid": "disk errors joinery limits profiles runs",
    "editing": "disk errors scene units",
    "scene": "drawings errors limits profiles runs shipped sticks units",
    "joinery": "errors profiles runs units",
    "drawings": "errors profiles units",
    "paper": "errors profiles units",
    "runs": "entries errors limits profiles units",
    "sticks": "errors units",
    "profiles": "entries errors limits units",
    "disk": "errors",
    "entries": "errors",
    "limits": "errors",
    "units": "errors",
}

# One owner for each heavy library, and for the scene file's format.
OWNERS = {
    "aiohttp": {"live"},
    "tomlkit": {"editing"},
    "watchfiles": {"live"},
    "OCP": {"models.solid"},
    "cadquery": {"models.solid"},
    "drjit": {"client"},
    "ezdxf": {"bench", "drawings", "exports"},
    "highspy": {"sticks"},
    "manifold3d": {"checks", "models.mesh"},
    "mitsuba": {"client"},
    "mitsuba_oidn": {"client"},
    "rich": {"cli"},
    "tomllib": {"scene"},
    "pxr": {"checks", "exports"},
    "reportlab": {"bench", "pages", "paper", "sheet"},
    "trimesh": {"checks"},
    "typer": {"cli"},
}
# `molding check` starts fast, and where these cannot be imported: only a function that needs one loads it.
SLOW_TO_START = {
    "OCP",
    "cadquery",
    "casadi",
    "drjit",
    "highspy",
    "matplotlib",
    "mitsuba",
    "pxr",
    "scipy",
    "trimesh",
    "vtkmodules",
}
BROUGHT_BY = {
    "OCP": "cadquery",
    "PIL": "pillow",
    "fontTools": "fonttools",
    "pxr": "usd_core",
}  # distributions of another name

TAKEN_ALONG = {"darkroom"}  # of a script that runs by itself: a module from its own folder

LONGEST_MODULE = 420  # lines


def dotted(path: Path) -> str:
    """preview/models/mesh/face.py -> preview.models.mesh.face."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room(module: str) -> str:
    """preview.models.mesh.face -> models.mesh; preview.units -> units; preview -> preview."""
    parts = module.split(".")[1:]
    return ".".join(parts[: 2 if parts[:1] and parts[0] in SPLIT else 1]) or "preview"


def imports(source: str, module: str, is_folder: bool = False) -> Iterator[str]:
    """The dotted name of everything imported: `from a import b` gives a.b, as b may be a module."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parents = module.split(".")
                above = parents[: len(parents) - node.level + (1 if is_folder else 0)]
                base = ".".join([*above, base] if base else above)
            yield from (f"{base}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call):
            func = node.func
            called = func.attr if isinstance(func, ast.Attribute) else getattr(func, "id", "")
            if called in ("import_module", "__import__"):
                target = node.args[0] if node.args else None
                if not (isinstance(target, ast.Constant) and isinstance(target.value, str)):
                    raise AssertionError(f"{module}, line {node.lineno}: imports a computed name")
                if target.value.startswith("."):
                    raise AssertionError(f"{module}, line {node.lineno}: imports a relative name")
                yield target.value


def imports_of(path: Path) -> set[str]:
    return set(imports(path.read_text("utf-8"), dotted(path), path.name == "__init__.py"))


def target_room(name: str) -> str:
    """The room an imported name belongs to; a name that the package's own __init__ gives is `preview`'s."""
    found = room(name)
    return found if found in ROOMS else room(name.rpartition(".")[0])


ROOMS = {room(dotted(path)) for path in MODULES}


def arrows() -> set[tuple[str, str]]:
    found = set()
    for path in MODULES:
        above = room(dotted(path))
        for name in imports_of(path):
            below = target_room(name) if name.split(".")[0] == "preview" else above
            if below != above and (above, below) != FRONT_DOOR:
                found.add((above, below))
    return found


def third_party(names: Iterable[str]) -> set[str]:
    return {name.split(".")[0] for name in names} - set(sys.stdlib_module_names) - {"preview"}


def test_there_is_something_to_read() -> None:
    assert len(MODULES) > 10
    assert {"units", "profiles", "models.mesh"} <= ROOMS


def test_every_room_has_a_floor() -> None:
    named = ROOMS | {below for _, below in arrows()}
    assert FLOORS.keys() >= named, f"give these a floor: {sorted(named - FLOORS.keys())}"


def test_arrows_point_down() -> None:
    wrong = sorted(f"{above} -> {below}" for above, below in arrows() if FLOORS[below] >= FLOORS[above])
    assert not wrong, f"these do not go down: {wrong}"


def test_arrows_are_the_ones_agreed() -> None:
    agreed = {(above, below) for above, belows in ARROWS.items() for below in belows.split()}
    found = arrows()
    assert found == agreed, f"new: {sorted(found - agreed)}; gone: {sorted(agreed - found)}"


def test_rooms_are_entered_by_the_door() -> None:
    """Another room's names come from its folder's __init__, not from the modules behind it."""
    behind = {dotted(path) for path in MODULES if path.name != "__init__.py" and path.parent != PACKAGE}
    wrong = [
        f"{dotted(path)} imports {name}"
        for path in MODULES
        for name in sorted(imports_of(path))
        if {name, name.rpartition(".")[0]} & behind and room(name) != room(dotted(path))
    ]
    assert not wrong, wrong


@pytest.mark.parametrize("library", OWNERS)
def test_heavy_libraries_have_one_owner(library: str) -> None:
    users = {room(dotted(path)) for path in MODULES if library in {n.split(".")[0] for n in imports_of(path)}}
    assert users <= OWNERS[library], f"{library} belongs to {sorted(OWNERS[library])}, and is imported by {users}"


def test_every_library_is_declared() -> None:
    """What the package imports it also asks for, itself or in an extra that adds to what it does."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    asked = list(project["dependencies"])
    for extra, lines in project["optional-dependencies"].items():
        asked += lines if extra not in ("dev", "test") else []
    declared = {re.split(r"[^\w-]", line)[0].lower().replace("-", "_") for line in asked}
    used = {BROUGHT_BY.get(name, name) for path in MODULES for name in third_party(imports_of(path))}
    used -= TAKEN_ALONG
    assert used <= declared, f"add to pyproject.toml: {sorted(used - declared)}"


def test_starting_loads_nothing_slow() -> None:
    """Import every module but the CAD kernel's in a new process, and look at what came along."""
    names = [dotted(path) for path in MODULES if room(dotted(path)) != "models.solid"]
    code = (
        "import importlib, json, sys\n"
        f"for name in {names!r}: importlib.import_module(name)\n"
        "print(json.dumps(sorted({name.split('.')[0] for name in sys.modules})))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    loaded = set(json.loads(done.stdout))
    assert "preview" in loaded
    assert not loaded & SLOW_TO_START


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_modules_are_short_and_described(path: Path) -> None:
    source = path.read_text("utf-8")
    lines = source.count("\n")
    assert lines <= LONGEST_MODULE, f"{lines} lines: does it have two reasons to change?"
    tree = ast.parse(source)
    bare = [] if ast.get_docstring(tree) else ["the module"]
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) and node.name[0] != "_":
            bare += [] if ast.get_docstring(node) else [node.name]
    assert not bare, f"no docstring: {bare}"


@pytest.mark.parametrize("folder", FOLDERS, ids=dotted)
def test_doors_list_what_they_hold(folder: Path) -> None:
    """A folder's __init__ names in __all__, sorted, exactly the public names in it (its modules aside)."""
    if set(folder.relative_to(PACKAGE).parts) <= SPLIT:
        assert not imports_of(folder / "__init__.py"), "its rooms are entered one by one"
        return
    door = importlib.import_module(dotted(folder))
    public = {
        name
        for name, value in vars(door).items()
        if name[0] != "_" and not isinstance(value, types.ModuleType) and name != "annotations"
    }
    assert set(door.__all__) == public
    assert len(door.__all__) == len(set(door.__all__))

    def order(name: str) -> tuple[bool, bool, str]:  # CONSTANTS, Classes, functions: as ruff sorts them
        return not name.isupper(), name[0].islower(), name

    assert list(door.__all__) == sorted(door.__all__, key=order)


READER = {
    "import preview.units": {"preview.units"},
    "import preview.units as u, math": {"preview.units", "math"},
    "from preview import units": {"preview.units"},
    "from preview.models import solid": {"preview.models.solid"},
    "from ..runs import Run": {"preview.runs.Run"},
    "from . import face": {"preview.joinery.face"},
    "from .face import Face": {"preview.joinery.face.Face"},
    "def f():\n    from preview.cli import main": {"preview.cli.main"},
    "if TYPE_CHECKING:\n    import preview.cli": {"preview.cli"},
    "class C:\n    def m(self):\n        import cadquery as cq": {"cadquery"},
    "importlib.import_module('preview.cli')": {"preview.cli"},
    "__import__('cadquery')": {"cadquery"},
}


@pytest.mark.parametrize("source", READER, ids=range(len(READER)))
def test_the_reader_finds_every_way_to_import(source: str) -> None:
    assert set(imports(source, "preview.joinery.joint")) == READER[source]


def test_the_reader_knows_a_folder_from_a_module() -> None:
    assert set(imports("from .joint import Joint", "preview.joinery", True)) == {"preview.joinery.joint.Joint"}
    assert set(imports("from .. import units", "preview.models.mesh", True)) == {"preview.models.units"}


@pytest.mark.parametrize("source", ["import_module(name)", "importlib.import_module('.cli', 'preview')"])
def test_the_reader_refuses_what_it_cannot_follow(source: str) -> None:
    with pytest.raises(AssertionError, match="imports a"):
        list(imports(source, "preview.joinery.joint"))


def test_names_lead_to_rooms() -> None:
    assert room("preview.models.mesh.face.Face") == "models.mesh"
    assert room("preview.units.show") == "units"
    assert target_room("preview.__version__") == "preview"
    assert target_room("preview.units.show") == "units"
