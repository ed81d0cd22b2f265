"""Shapes, ends and formats that other packages and programs add: entered once, used by scene files and the command."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

import preview
import preview.library
from preview.build import Built
from preview.entries import Entries
from preview.errors import PreviewError
from preview.exports import FORMATS
from preview.joinery import piece_lengths
from preview.profiles import SHAPES, Edge, Line, Profile, Shape, measure
from preview.runs import BEVELS
from preview.units import Unit

SCENE = """
title = "A shelf with steps"
units = "mm"
[finish.oak]
color = "#a08050"
[profile.edge]
foot = 20
face = [{ fillet = 10 }, { steps = 12, in = 12 }, { fillet = 5 }]
[member.edge]
profile = "edge"
finish = "oak"
[[run]]
name = "shelf"
members = ["edge"]
room = "right"
begin = "nipped"
steps = [{ straight = 400 }, { outside = 90 }, { straight = 300 }]
"""


def steps(shape: Shape, start: tuple[float, float], _unit: Unit) -> list[Edge]:
    """Three little stairs."""
    (d, h), aside, rise = start, shape.out / 3, shape.rise / 3
    edges: list[Edge] = []
    for stair in range(3):
        foot, corner = (d + stair * aside, h + stair * rise), (d + stair * aside, h + (stair + 1) * rise)
        edges += [Line(foot, corner), Line(corner, (corner[0] + aside, corner[1]))]
    return edges


def nipped(_profile: Profile) -> float:
    return 0.5


def totals(built: Built, stem: str) -> tuple[tuple[str, bytes], ...]:
    return ((f"{stem}-totals.txt", f"{len(built.pieces)} pieces\n".encode()),)


@pytest.fixture
def entered(monkeypatch: pytest.MonkeyPatch) -> None:
    for table in (SHAPES, BEVELS, FORMATS):
        monkeypatch.setattr(table, "_entered", dict(table))
    preview.enter_shape("steps")(steps)
    preview.enter_end("nipped")(nipped)
    preview.enter_format("totals")(totals)


@pytest.mark.usefixtures("entered")
def test_a_shape_an_end_and_a_format_are_one_function_each(tmp_path: Path) -> None:
    scene = tmp_path / "shelf.toml"
    scene.write_text(SCENE)
    shelf = preview.load(scene)
    # A band of 10 that is 20 thick, stairs of 4 that go up first and then in, and a band of 5 that is 8 thick.
    first, _ = shelf.built.pieces
    assert measure(first.profile).area == pytest.approx(20 * 10 + 4 * (20 + 16 + 12) + 8 * 5)
    assert piece_lengths(first)["back"] == pytest.approx(400)
    # 20 mm out: half a millimeter back for each at the nipped end, one more at the outside corner.
    assert shelf.pieces[0].face == pytest.approx(400 - 10 + 20)
    assert shelf.report()["holds"]
    written = shelf.export(tmp_path / "out", "glb", "totals")
    assert (tmp_path / "out" / "models" / "shelf-totals.txt").read_text() == "2 pieces\n"
    whole = shelf.mesh()
    assert {path.name for path in written} == {"shelf.glb", "shelf-totals.txt", "report.json"}
    assert trimesh.Trimesh(whole.points, whole.triangles, process=False).is_watertight


@pytest.mark.parametrize(
    ("name", "told"), [("cove", "taken"), ("in", "taken"), ("Deep Cove", "small letters"), ("", "small letters")]
)
def test_a_name_that_is_taken_or_none_is_refused(name: str, told: str) -> None:
    before = dict(SHAPES)
    with pytest.raises(PreviewError, match=told):
        SHAPES.enter(name, steps)
    assert dict(SHAPES) == before


def test_a_bevel_too_steep_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(BEVELS, "_entered", dict(BEVELS) | {"razor": lambda _profile: 60.0})
    scene = tmp_path / "shelf.toml"
    scene.write_text(SCENE.replace("nipped", "razor").replace("steps = 12", "bevel = 12"))
    with pytest.raises(PreviewError, match=r"runs back 60\.0 mm for each mm out"):
        preview.load(scene)


def package(folder: Path, code: str, points: str) -> dict[str, str]:
    """A package laid as an installed one, and the environment in which it is found."""
    (folder / "bench_extras.py").write_text(code)
    info = folder / "bench_extras-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: bench-extras\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(points)
    return {**os.environ, "PYTHONPATH": str(folder)}


def molding(env: dict[str, str], *arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from preview.cli import main; main()", *map(str, arguments)]
    return subprocess.run(command, env=env, capture_output=True, text=True, check=False, timeout=300)


def test_an_installed_package_adds_to_the_command(tmp_path: Path) -> None:
    """Entry points specification of the Python Packaging User Guide: a group, a name, module:function."""
    code = "def nipped(profile):\n    return 0.5\n\n\ndef totals(built, stem):\n    return ((stem + '.txt', b'all'),)\n"
    points = "[molding.ends]\nnipped = bench_extras:nipped\n\n[molding.formats]\ntotals = bench_extras:totals\n"
    env = package(tmp_path, code, points)
    scene = tmp_path / "shelf.toml"
    scene.write_text(SCENE.replace("steps = 12", "bevel = 12"))
    done = molding(env, "export", scene, "-f", "totals", "-o", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "models" / "shelf.txt").read_bytes() == b"all"


def test_a_broken_package_stops_only_who_asks_for_it(tmp_path: Path) -> None:
    """A module that raises, one that ends the program, a name that leads nowhere, one that is taken: told once each."""
    code = "import sys\nif __name__ == 'bench_extras':\n    raise RuntimeError('worn\x1b out')\n"
    points = (
        "[molding.shapes]\nreeds = bench_extras:reeds\ncove = bench_gone:cove\n"
        "[molding.ends]\nnipped = bench_gone:nipped\n"
        "[molding.formats]\ntotals = bench_ends:totals\nconstant = os:name\nlists = json:dumps\n"
    )
    env = package(tmp_path, code, points)
    (tmp_path / "bench_ends.py").write_text("raise SystemExit(3)\n")
    scene = tmp_path / "shelf.toml"
    sound = SCENE.replace("steps = 12", "bevel = 12").replace('begin = "nipped"', 'begin = "square"')
    scene.write_text(sound)
    worn = "the shape reeds of the package bench-extras (bench_extras:reeds, in the group molding.shapes) cannot be"
    done = molding(env, "export", scene, "-f", "obj", "-o", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    for words in (
        f"{worn} loaded: RuntimeError: worn\N{REPLACEMENT CHARACTER} out",
        "loaded: SystemExit: 3",
        "the shape cove of the package bench-extras",
        "the cut of an end nipped of the package bench-extras",
        "loaded: TypeError: str is no function",
    ):
        assert done.stderr.count(words) == 1
    assert done.stderr.count("warning:") == 5
    assert "Traceback" not in done.stderr
    scene.write_text(sound.replace("bevel = 12", "reeds = 12"))
    refused = molding(env, "check", scene)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "shelf.toml" in refused.stderr
    assert refused.stderr.count(worn) == 2  # the warning, and the refusal
    assert "Traceback" not in refused.stderr
    refused = molding(env, "export", scene, "-f", "totals", "-o", tmp_path / "other")
    assert refused.returncode == 2
    assert "--format\n  the format totals of the package bench-extras" in refused.stderr
    assert not (tmp_path / "other").exists()
    scene.write_text(sound.replace("square", "nipped"))
    refused = molding(env, "check", scene)
    assert refused.returncode == 2
    assert refused.stderr.count("the cut of an end nipped of the package bench-extras") == 2


def raising(*_: object) -> Iterator[tuple[str, bytes]]:
    yield "one.txt", b"one"
    raise KeyError("oak")


GIVEN: dict[str, tuple[Any, str]] = {
    "nothing": (None, "gives NoneType, and pairs of a name and bytes are wanted"),
    "a number": (7, "gives int, and pairs"),
    "a dict": ({"a.txt": b"a"}, "gives dict, and pairs"),
    "text": ("ab", "gives str, and pairs"),
    "names": (["ab"], "gives str, where a name and bytes are wanted"),
    "text inside": ([("a.txt", "words")], 'gives str for the file "a.txt", and bytes are wanted'),
    "no files": ((), "gives no files"),
    "out": ([("../../escape.txt", b"")], 'the name "../../escape.txt", which is none below the folder'),
    "absolute": ([("{tmp}/escape.txt", b"")], "which is none below the folder of models"),
    "no name": ([("", b"")], "which is none below"),
    "no letters": ([("a\0b", b"")], "which is none below"),
    "half a letter": ([("\ud800", b"")], "which is none below"),
    "the model's": ([("{stem}.GLB", b"")], 'writes "shelf.GLB", where the format glb writes "shelf.glb" already'),
    "another's": ([("{stem}.obj", b"")], 'where the format obj writes "shelf.obj" already'),
    "its own": ([("a", b""), ("a", b"")], 'writes "a", where it has written "a" already'),
    "a folder": ([("a/b", b""), ("a", b"")], 'writes "a", where it has written "a/b" already'),
    "our folder": ([("options/a.glb", b"")], "the folder options is the program's own"),
    "an error": (raising, "ended with KeyError: 'oak'"),
}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> preview.library.Model:
    path = tmp_path_factory.mktemp("plain") / "shelf.toml"
    path.write_text(SCENE.replace("steps = 12", "bevel = 12").replace('begin = "nipped"', 'begin = "square"'))
    return preview.load(path)


@pytest.mark.usefixtures("entered")
@pytest.mark.parametrize("what", GIVEN)
def test_a_format_that_gives_something_else_is_one_error(
    what: str, plain: preview.library.Model, tmp_path: Path
) -> None:
    given, told = GIVEN[what]

    @preview.enter_format("odd")
    def odd(built: Built, stem: str) -> Any:
        if isinstance(given, list):
            return [
                (each[0].format(tmp=tmp_path, stem=stem), each[1]) if isinstance(each, tuple) else each
                for each in given
            ]
        return given(built, stem) if callable(given) else given

    with pytest.raises(PreviewError) as caught:
        plain.export(tmp_path / "deep" / "out", "glb", "obj", "odd")
    (problem,) = caught.value.problems
    assert problem.problem.startswith('the format "odd" ')
    assert told in problem.problem
    assert list(tmp_path.iterdir()) in ([], [tmp_path / "deep"])
    assert not (tmp_path / "deep" / "out").exists()


@pytest.mark.usefixtures("entered")
@pytest.mark.parametrize("kind", [list, tuple, iter, dict.items])
def test_any_pairs_will_do(kind: Callable[[Any], Any], plain: preview.library.Model, tmp_path: Path) -> None:
    pairs = {"deep/a.txt": bytearray(b"a"), "b.txt": memoryview(b"b")}
    preview.enter_format("odd")(lambda _built, _stem: kind(pairs if kind is dict.items else pairs.items()))
    written = plain.export(tmp_path, "odd")
    assert {path.name: path.read_bytes() for path in written[:2]} == {"a.txt": b"a", "b.txt": b"b"}


@pytest.mark.usefixtures("entered")
@pytest.mark.parametrize(
    ("back", "told"),
    [
        ("1", "gives str, and a number is wanted"),
        (None, "gives NoneType, and a number is wanted"),
        (float("nan"), "runs back nan for each mm out, and 4 is the most"),
        (np.float64(60), "runs back 60.0 mm for each mm out, and 4 is the most"),
        (ValueError("no such wood"), "ended with ValueError: no such wood"),
    ],
)
@pytest.mark.parametrize("stock", ["", "stock = 350\n"])
def test_an_end_that_gives_no_number_is_one_error(back: object, told: str, stock: str, tmp_path: Path) -> None:
    @preview.enter_end("odd")
    def odd(_profile: Profile) -> Any:
        if isinstance(back, Exception):
            raise back
        return back

    path = tmp_path / "shelf.toml"
    path.write_text(SCENE.replace("nipped", "odd").replace("steps = 12", "bevel = 12") + stock)
    with pytest.raises(PreviewError) as caught:
        preview.load(path)
    assert {problem.problem for problem in caught.value.problems} == {f'the cut of an end "odd" {told}'}
    assert {problem.file for problem in caught.value.problems} == {"shelf.toml"}


@pytest.mark.usefixtures("entered")
@pytest.mark.parametrize(
    ("given", "told"),
    [
        ([], "gives no edges"),
        (None, "ended with TypeError: 'NoneType' object is not iterable"),
        ([(0, 0)], "gives tuple, and edges (Line, Arc) are wanted"),
        ([Line((20.0, 10.0), (float("nan"), 22.0))], "gives an edge that ends nowhere"),
        ([Line((20.0, 10.0), ("8", 22.0))], "ended with TypeError: must be real number, not str"),  # type: ignore[arg-type]
        (ValueError("no such reed"), "ended with ValueError: no such reed"),
    ],
)
def test_a_shape_that_gives_no_edges_is_one_error(given: object, told: str, tmp_path: Path) -> None:
    @preview.enter_shape("odd")
    def odd(_shape: Shape, _start: tuple[float, float], _unit: Unit) -> Any:
        if isinstance(given, Exception):
            raise given
        return given

    path = tmp_path / "shelf.toml"
    path.write_text(SCENE.replace("steps = 12", "odd = 12"))
    with pytest.raises(PreviewError) as caught:
        preview.load(path)
    (problem,) = caught.value.problems
    assert problem.problem == f'the shape "odd" {told}'
    assert 'profile "edge"' in problem.place or "profile.edge" in problem.place
    assert "shape 2" in problem.place


def test_a_fault_of_our_own_is_no_user_s() -> None:
    """A function of this program that raises is a bug of it, and not told as one of a package."""
    with pytest.raises(ZeroDivisionError), SHAPES.asking("cove"):
        raise ZeroDivisionError


def test_what_authors_write_with_is_at_the_front_door() -> None:
    assert (preview.Line, preview.Shape, preview.Profile) == (Line, Shape, Profile)
    assert preview.Arc((0, 0), (1, 1), (0, 1), 1.57).radius == pytest.approx(1)
    assert preview.PreviewError is PreviewError
    assert set(preview.__all__) >= {"Arc", "Line", "PreviewError", "Profile", "Shape"}
    lazy = "import preview, sys; assert 'preview.library' not in sys.modules; preview.Line"
    assert subprocess.run([sys.executable, "-c", lazy], check=False, timeout=60).returncode == 0


def test_a_table_is_a_mapping() -> None:
    table: Entries[int] = Entries("number", "molding.none", {"one": 1})
    table.enter("two", 2)
    assert dict(table) == {"one": 1, "two": 2}
    assert table.get("three") is None
