"""The quick part: some hundred damaged files of each kind, what was found before, and files made to take the machine.

The long part is `long_run`. What a file once did is in its name; each of `found` broke the promise before it was
mended.
"""

from __future__ import annotations

import json
import random
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuzz_inputs import KINDS, BrokenPromiseError, readable
from fuzz_mutations import glb_of, mutated
from fuzz_seeds import FOUND, seeds
from preview import limits
from preview.build import build
from preview.checks import Body, inspect_model, read_model
from preview.drawings import Wanted, read_drawing
from preview.errors import LONGEST, MOST_TOLD, PreviewError, Problem
from preview.models import solid
from preview.scene import load_profile, load_scene

EXAMPLES = {"glb": 25, "stl": 25, "csv": 25, "dxf": 60, "svg": 60, "scene": 80, "profile": 60}
IN_PROCESS = sorted(set(KINDS) - {"step", "digest_usdz"})
KEPT = sorted(path for path in FOUND.rglob("*") if path.is_file())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz")


def attempt(kind: str, data: bytes, folder: Path) -> None:
    KINDS[kind](data, folder)


@pytest.mark.parametrize("kind", IN_PROCESS)
def test_damaged_files_are_read_or_refused(kind: str, folder: Path) -> None:
    @settings(max_examples=EXAMPLES.get(kind, 100))
    @given(number=st.integers(0, 2**40))
    def look(number: int) -> None:
        attempt(kind, mutated(kind, seeds(kind), random.Random(number)), folder)

    look()


@pytest.mark.parametrize("kind", IN_PROCESS)
def test_any_bytes_are_read_or_refused(kind: str, folder: Path) -> None:
    @settings(max_examples=20)
    @given(
        data=st.one_of(
            st.binary(max_size=200),
            st.text(st.characters(exclude_categories=["Cs"]), max_size=200).map(
                lambda text: text.encode("utf-8", "replace")
            ),
        )
    )
    def look(data: bytes) -> None:
        attempt(kind, data, folder)

    look()


@pytest.mark.parametrize("path", KEPT, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_what_was_found_stays_mended(path: Path, folder: Path) -> None:
    if path.parent.name == "step" and solid.available():
        pytest.skip("no CAD kernel")
    attempt(path.parent.name, path.read_bytes(), folder)


def test_the_promise_can_be_broken(folder: Path) -> None:
    """What the harness looks for, it finds."""
    error = PreviewError("", None, "a", "b")
    readable(error)
    object.__setattr__(error.problems[0], "problem", "a" * 5000)
    with pytest.raises(BrokenPromiseError, match="characters"):
        readable(error)
    object.__setattr__(error.problems[0], "problem", "\x1b[31m")
    with pytest.raises(BrokenPromiseError, match="U\\+001B"):
        readable(error)
    object.__setattr__(error.problems[0], "problem", "a")
    object.__setattr__(error.problems[0], "fix", " ")
    with pytest.raises(BrokenPromiseError, match="without a fix"):
        readable(error)


# Messages.


def test_a_message_can_always_be_printed() -> None:
    problem = Problem("a\x00b", "\ud800", "x\x1b[2Jy\nz\tw\u202e", "do", "f\x85")
    assert str(problem) == "f\ufffd: a\ufffdb = \ufffd\n  x\ufffd[2Jy\n  z\tw\ufffd\n  fix: do"
    assert str(problem).encode("utf-8")


def test_a_message_has_an_end() -> None:
    problem = Problem("", None, "a" * 10_000, "b")
    assert LONGEST // 2 < len(problem.problem) < LONGEST
    several = PreviewError.several([Problem(str(i), None, "p", "f") for i in range(MOST_TOLD + 7)])
    assert str(several).endswith("\n\nand 7 more")
    assert len(several.problems) == MOST_TOLD + 7


# Limits.

HEAD = 'title = "x"\nunits = "mm"\n[profile.p]\nfoot = 10\nface = [{ fillet = 10 }]\n[member.m]\nprofile = "p"\n'
RUN = '[[run]]\nname = "r{0}"\nmembers = ["m"]\nroom = "left"\nstart = [0, {0}00]\nsteps = [{{ straight = 50 }}]\n'
CURVE = '[[run]]\nname = "r"\nmembers = ["m"]\nroom = "right"\nsteps = [{ curve_left = 300, radius = 100000 }]\n'


def written(folder: Path, name: str, data: str | bytes) -> Path:
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def box(at: float = 0.0) -> Body:
    corners = np.array([[x, y, z] for x in (0, 30) for y in (0, 20) for z in (0, 10)], dtype=float)
    corners[:, 0] += at
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    sides = np.array([t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))])
    return Body(f"b{at:g}", (), corners, sides, None, 1e-6)


def boxes_glb(nodes: int, change: Callable[[Any], object] = lambda _: None) -> bytes:
    """A GLB of one box that stands in several nodes."""
    body = box()
    points, sides = (body.vertices / 1000).astype("<f4").tobytes(), body.triangles.astype("<u2").tobytes()
    document: dict[str, object] = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": list(range(nodes))}],
        "nodes": [{"mesh": 0, "translation": [i, 0, 0]} for i in range(nodes)],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 8, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5123, "count": 36, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": len(points)},
            {"buffer": 0, "byteOffset": len(points), "byteLength": len(sides)},
        ],
        "buffers": [{"byteLength": len(points) + len(sides)}],
    }
    change(document)
    block = points + sides
    return glb_of(json.dumps(document).encode(), struct.pack("<I4s", len(block), b"BIN\0") + block)


LIMITED: dict[str, tuple[int, Callable[[Path], object]]] = {
    "MODEL_BYTES": (100, lambda at: read_model(written(at, "a.glb", boxes_glb(2)))),
    "NODES": (1, lambda at: read_model(written(at, "a.glb", boxes_glb(2)))),
    "BODIES": (1, lambda at: read_model(written(at, "a.glb", boxes_glb(2)))),
    "TRIANGLES": (20, lambda at: read_model(written(at, "a.glb", boxes_glb(2)))),
    "OVERLAPS": (0, lambda _: inspect_model([box(), box(29)])),
    "ENDS": (0, lambda _: inspect_model([box(), box(30)])),
    "NEAR": (0, lambda _: inspect_model([box(), box(30)])),
    "HEADINGS": (1, lambda at: load_scene(written(at, "a.toml", HEAD + RUN.format(1) + RUN.format(2)))),
    "ENTRIES": (0, lambda at: load_scene(written(at, "a.toml", HEAD + RUN.format(1)))),
    "PIECES": (1, lambda at: load_scene(written(at, "a.toml", HEAD + RUN.format(1) + RUN.format(2)))),
    "VERTICES": (1000, lambda at: build(load_scene(written(at, "a.toml", HEAD + CURVE)))),
    "SHAPES": (1, lambda at: load_profile(written(at, "a.toml", SKETCHED))),
    "CUT_EDGES": (1, lambda at: load_profile(written(at, "a.toml", CUT))),
}
SKETCHED = 'name = "p"\nunits = "mm"\nfoot = 9\nface = [{ fillet = 3 }, { fillet = 3 }]\n'
CUT = 'name = "p"\nunits = "mm"\nblank = { width = 60, thickness = 20 }\ncuts = [{ cove = 3, at = "face top" }]\n'


@pytest.mark.parametrize("name", LIMITED)
def test_a_limit_is_told_by_number_and_can_be_raised(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    most, attempt_it = LIMITED[name]
    attempt_it(tmp_path)
    monkeypatch.setenv(f"MOLDING_LIMIT_{name}", str(most))
    with pytest.raises(PreviewError) as caught:
        attempt_it(tmp_path)
    message = str(caught.value)
    assert f"MOLDING_LIMIT_{name}" in message
    assert "is the most" in message


def test_every_limit_is_tried() -> None:
    every = {value.name for value in vars(limits).values() if isinstance(value, limits.Limit)}
    elsewhere = {"KERNEL_SECONDS", "KERNEL_BYTES"} | {"RIMS", "TOUCHES", "CROWDED"}  # test_apart, test_many_bodies
    assert every == {*LIMITED, *elsewhere}


@pytest.mark.parametrize("given_", ["many", "-1", "1.5", "1e6", "٣", "9" * 30])
def test_a_limit_that_is_no_number_is_refused(given_: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MOLDING_LIMIT_BODIES", given_)
    with pytest.raises(PreviewError, match="a limit is a whole number"):
        limits.BODIES.most()


# Files made to take the machine.


def in_itself(document: Any) -> None:
    document["nodes"] = [{"mesh": 0, "children": [0]}]
    document["scenes"] = [{"nodes": [0]}]


def in_two(document: Any) -> None:
    document["nodes"] = [{"children": [2]}, {"children": [2]}, {"mesh": 0}]
    document["scenes"] = [{"nodes": [0, 1]}]


def doubled(document: Any) -> None:
    """Two to the power of 40 boxes."""
    document["nodes"] = [*({"children": [i + 1, i + 1]} for i in range(40)), {"mesh": 0}]
    document["scenes"] = [{"nodes": [0]}]


def in_no_room(document: Any) -> None:
    document["bufferViews"][0]["byteStride"] = 0
    document["accessors"][0]["count"] = 10**9


def too_many(document: Any) -> None:
    document["accessors"][0]["count"] = 10**9


def past_the_end(document: Any) -> None:
    document["bufferViews"][0]["byteLength"] = 10**9


def before_the_beginning(document: Any) -> None:
    document["bufferViews"][0]["byteOffset"] = -4


def node_from_behind(document: Any) -> None:
    document["scenes"] = [{"nodes": [-1]}]


def accessor_from_behind(document: Any) -> None:
    document["accessors"].append(document["accessors"][0])
    document["meshes"][0]["primitives"] = [{"attributes": {"POSITION": -1}}]


HOSTILE_GLB = (
    in_itself,
    in_two,
    doubled,
    in_no_room,
    too_many,
    past_the_end,
    before_the_beginning,
    node_from_behind,
    accessor_from_behind,
)


@pytest.mark.parametrize("ours", [False, True], ids=["from elsewhere", "as if ours"])
@pytest.mark.parametrize("harm", HOSTILE_GLB, ids=lambda harm: harm.__name__)
def test_hostile_glb_files(harm: Callable[[Any], None], ours: bool, tmp_path: Path) -> None:
    def change(document: Any) -> None:
        harm(document)
        if ours:
            document["asset"] = {"version": "2.0", "generator": "molding-preview 1"}

    with pytest.raises(PreviewError, match="not a GLB model that can be read"):
        read_model(written(tmp_path, "a.glb", boxes_glb(3, change)))


def test_a_box_in_nodes_is_read(tmp_path: Path) -> None:
    assert len(read_model(written(tmp_path, "a.glb", boxes_glb(3))).bodies) == 3


def test_a_path_used_again_is_read_once(tmp_path: Path) -> None:
    """Moves draw nothing, so nothing counts them; 1,500 readings of this path would take minutes."""
    path = "M0 0" * 10_000
    uses = '<use href="#p"/>' * 1500
    text = f'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><path id="p" d="{path}"/>{uses}</svg>'
    with pytest.raises(PreviewError, match="no paths or shapes"):
        read_drawing(written(tmp_path, "a.svg", text), Wanted())


def test_hidden_lines_in_blocks_are_counted(tmp_path: Path) -> None:
    """20,000 references to a block of 500 hidden lines are ten million lines, none of which is drawn."""
    line = "0\nLINE\n8\n0\n60\n1\n10\n0\n20\n0\n11\n1\n21\n0\n"
    reference = "0\nINSERT\n8\n0\n2\nB\n10\n0\n20\n0\n"
    text = (
        f"0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n8\n0\n2\nB\n70\n0\n10\n0\n20\n0\n3\nB\n{line * 500}"
        "0\nENDBLK\n8\n0\n0\nENDSEC\n"
        f"0\nSECTION\n2\nENTITIES\n{reference * 600}0\nENDSEC\n0\nEOF\n"
    )
    with pytest.raises(PreviewError, match="more than 200,000 entities"):
        read_drawing(written(tmp_path, "a.dxf", text), Wanted(units="mm"))


def test_curves_that_take_thousands_of_arcs_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("preview.drawings.read.MOST_FITTED", 100)
    monkeypatch.setattr("preview.drawings.biarcs.MOST_FITTED", 100)
    waves = "".join(f"C{i} {i + 3} {i + 1} {i - 5} {i + 2} {i * 7 % 13}" for i in range(10))
    text = f'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><path d="M0 0{waves}z"/></svg>'
    with pytest.raises(PreviewError, match="100 lines and arcs in its curves"):
        read_drawing(written(tmp_path, "a.svg", text), Wanted())


# STEP, which compiled code reads: see also solid/test_apart.


def test_damage_to_step_files_is_the_same_again() -> None:
    made = [mutated("step", seeds("step"), random.Random(number)) for number in range(60)]
    assert made == [mutated("step", seeds("step"), random.Random(number)) for number in range(60)]
    assert len(set(made) - set(seeds("step"))) > 50
    assert sum(each.startswith(b"ISO-10303-21;") for each in made) > 50


@pytest.mark.skipif(solid.available() is not None, reason="no CAD kernel")
def test_the_kernel_has_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, "a.step", seeds("step")[0])
    assert len(read_model(path).bodies) == 2
    monkeypatch.setenv("MOLDING_LIMIT_KERNEL_BYTES", "100000000")
    with pytest.raises(PreviewError, match="breaks down on this file"):
        read_model(path)
    monkeypatch.setenv("MOLDING_LIMIT_KERNEL_BYTES", "4000000000")
    monkeypatch.setenv("MOLDING_LIMIT_KERNEL_SECONDS", "0")
    with pytest.raises(PreviewError, match="was not done with this file after 0 s"):
        read_model(path)
