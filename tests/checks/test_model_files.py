"""Model files from anywhere: how they are read, what is refused, and the command that inspects them."""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from model_bodies import (
    BASE,
    Body,
    flipped,
    lofted,
    moved,
    straight,
    without_a_triangle,
)
from preview.checks import inspect_model, read_model
from preview.cli.app import app
from preview.errors import PreviewError

ROW = (straight("left", 0, 400), straight("right", 400, 900))


def binary_stl(bodies: tuple[Body, ...]) -> bytes:
    corners = np.concatenate([body.vertices[body.triangles] for body in bodies]).astype("<f4")
    facets = np.zeros(len(corners), [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    facets["c"] = corners
    return b"made elsewhere".ljust(80) + struct.pack("<I", len(corners)) + facets.tobytes()


def text_stl(bodies: tuple[Body, ...]) -> str:
    lines = []
    for body in bodies:
        lines.append(f"solid {body.name}")
        for triangle in body.vertices[body.triangles]:
            lines += ["  facet normal 0 0 0", "    outer loop"]
            lines += [f"      vertex {x:.6e} {y:.6e} {z:.6e}" for x, y, z in triangle]
            lines += ["    endloop", "  endfacet"]
        lines.append(f"endsolid {body.name}")
    return "\n".join(lines) + "\n"


def glb(document: dict[str, Any], data: bytes) -> bytes:
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text + struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def meters(body: Body) -> np.ndarray:
    """Its corners as glTF has them: meters, y up."""
    x, y, z = body.vertices.T / 1000
    return np.column_stack([x, z, -y])


def foreign(
    bodies: tuple[Body, ...] = ROW,
    nodes: list[dict[str, Any]] | None = None,
    change: Callable[[dict[str, Any]], Any] = id,
) -> bytes:
    """A GLB with interleaved positions and normals, 16-bit indices, and each body in two primitives."""
    data = b""
    views: list[dict[str, Any]] = []
    accessors: list[dict[str, Any]] = []
    meshes = []
    for body in bodies:
        points = meters(body).astype("<f4")
        views.append({"buffer": 0, "byteOffset": len(data), "byteLength": 24 * len(points), "byteStride": 24})
        data += np.hstack([points, np.zeros_like(points)]).astype("<f4").tobytes()
        position = len(accessors)
        box = {"min": points.min(axis=0).tolist(), "max": points.max(axis=0).tolist()}
        accessors.append(
            {"bufferView": len(views) - 1, "componentType": 5126, "count": len(points), "type": "VEC3"} | box
        )
        primitives = []
        half = len(body.triangles) // 2
        for part in (body.triangles[:half], body.triangles[half:]):
            index = part.astype("<u2").tobytes()
            views.append({"buffer": 0, "byteOffset": len(data), "byteLength": len(index)})
            data += index + b"\0" * (-len(index) % 4)
            accessors.append(
                {"bufferView": len(views) - 1, "componentType": 5123, "count": part.size, "type": "SCALAR"}
            )
            primitives.append({"attributes": {"POSITION": position}, "indices": len(accessors) - 1})
        meshes.append({"name": body.name, "primitives": primitives})
    named = [{"name": body.name, "mesh": i} for i, body in enumerate(bodies)]
    document = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(nodes or named)))}],
        "nodes": nodes or named,
        "meshes": meshes,
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": len(data)}],
    }
    change(document)
    return glb(document, data)


def refusal(path: Path) -> str:
    with pytest.raises(PreviewError) as caught:
        read_model(path)
    (problem,) = caught.value.problems
    assert problem.fix
    assert problem.file == str(path)
    return problem.problem


# Reading --------------------------------------------------------------------------------------------------------------


def test_binary_and_text_stl_hold_the_same(tmp_path: Path) -> None:
    (tmp_path / "row.stl").write_bytes(binary_stl(ROW))
    (tmp_path / "text.STL").write_text(text_stl(ROW))
    for name, bodies in (("row.stl", ["row 1", "row 2"]), ("text.STL", ["left", "right"])):
        model = read_model(tmp_path / name)
        told = inspect_model(model.bodies)
        assert [body.name for body in told.bodies] == bodies
        assert [body.volume for body in told.bodies] == pytest.approx([1404 * 400, 1404 * 500], rel=1e-6)
        assert len(told.joints) == 1
        assert told.holds
        assert "STL has no unit; its numbers are taken as millimeters" in model.remarks


def test_a_binary_stl_may_begin_like_a_text_one(tmp_path: Path) -> None:
    path = tmp_path / "row.stl"
    path.write_bytes(b"solid" + binary_stl(ROW)[5:])
    assert len(inspect_model(read_model(path).bodies).bodies) == 2


def test_a_tiny_stl_is_told(tmp_path: Path) -> None:
    path = tmp_path / "inches.stl"
    path.write_bytes(binary_stl((Body("b", (), ROW[0].vertices / 25.4, ROW[0].triangles, None, 0.0),)))
    assert any("inches" in remark for remark in read_model(path).remarks)


def test_a_glb_from_elsewhere_is_read_with_all_its_placements(tmp_path: Path) -> None:
    """Two nodes of one mesh: one moved by a matrix, one turned round and moved by its parent."""
    path = tmp_path / "row.glb"
    half = math.sqrt(0.5)
    nodes: list[dict[str, Any]] = [
        {"name": "here", "mesh": 0, "matrix": [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0.001, 0, 1]},
        {"name": "parent", "translation": [0.4, 0.001, 0], "children": [2]},
        {"name": "there", "mesh": 0, "rotation": [0, half, 0, half], "translation": [0, 0, 0.5]},
    ]

    def roots(document: dict[str, Any]) -> None:
        document["scenes"][0]["nodes"] = [0, 1]

    path.write_bytes(foreign((ROW[0],), nodes, roots))
    told = inspect_model(read_model(path).bodies)
    boxes = {body.name: (body.low, body.high) for body in told.bodies}
    assert boxes["here"][0] == pytest.approx((0, 0, 1), abs=1e-3)
    assert boxes["here"][1] == pytest.approx((400, 18, 91), abs=1e-3)
    # A quarter turn about y carries x to -z, which is plan y: (x, y) -> (-y, x); then 400 along x, 500 back in y.
    assert boxes["there"][0] == pytest.approx((382, -500, 1), abs=1e-3)
    assert boxes["there"][1] == pytest.approx((400, -100, 91), abs=1e-3)
    assert told.holds


def test_a_mirrored_node_still_looks_outward(tmp_path: Path) -> None:
    path = tmp_path / "row.glb"
    path.write_bytes(foreign((ROW[0],), [{"name": "mirrored", "mesh": 0, "scale": [-1, 1, 1]}]))
    told = inspect_model(read_model(path).bodies)
    assert told.bodies[0].low[0] == pytest.approx(-400, abs=1e-3)
    assert told.holds


def test_a_glb_from_elsewhere_shows_its_joints_and_faults(tmp_path: Path) -> None:
    path = tmp_path / "row.glb"
    path.write_bytes(foreign((ROW[0], moved(ROW[1], 0.3, 0, 0.5))))
    model = read_model(path)
    told = inspect_model(model.bodies)
    assert [body.name for body in told.bodies] == ["left", "right"]
    contact = told.joints[0].contact
    assert contact.gap.figure == pytest.approx(0.3, abs=1e-4)
    assert contact.step.figure == pytest.approx(0.5, abs=1e-4)
    assert "everything in the file is judged, surroundings too" in model.remarks


def test_several_bodies_in_one_mesh_are_told_apart(tmp_path: Path) -> None:
    path = tmp_path / "one.glb"
    both = np.concatenate([ROW[0].triangles, ROW[1].triangles + len(ROW[0].vertices)])
    path.write_bytes(foreign((Body("both", (), np.concatenate([b.vertices for b in ROW]), both, None, 0.0),)))
    told = inspect_model(read_model(path).bodies)
    assert [body.name for body in told.bodies] == ["both 1", "both 2"]
    assert len(told.joints) == 1


# Refusals -------------------------------------------------------------------------------------------------------------


def with_nan(data: bytes) -> bytes:
    return data[:96] + struct.pack("<f", math.nan) + data[100:]


def with_far(data: bytes) -> bytes:
    return data[:96] + struct.pack("<f", 1e20) + data[100:]


def sparse(document: dict[str, Any]) -> None:
    document["accessors"][0]["sparse"] = {"count": 1}


def compressed(document: dict[str, Any]) -> None:
    document["extensionsUsed"] = ["KHR_draco_mesh_compression"]


def strips(document: dict[str, Any]) -> None:
    document["meshes"][0]["primitives"][0]["mode"] = 5


def past_the_end(document: dict[str, Any]) -> None:
    document["accessors"][1]["count"] = 10**9


def no_such_accessor(document: dict[str, Any]) -> None:
    document["meshes"][0]["primitives"][0]["attributes"]["POSITION"] = 99


BAD = {
    "empty.stl": (b"", "the file is empty"),
    "empty.glb": (b"", "the file is empty"),
    "empty.step": (b"", "the file is empty"),
    "nothing.stl": (b"".ljust(80) + struct.pack("<I", 0), "holds no triangles"),
    "cut.stl": (binary_stl(ROW)[:-30], "it has "),
    "long.stl": (binary_stl(ROW) + b"more", "it has "),
    "letter.stl": (b"Dear all, the molding is ready." * 9, "is not an STL model"),
    "short.stl": (b"Dear all", "is not an STL model"),
    "solid.stl": (b"solid work, well done", "does not end"),
    "cut-text.stl": (text_stl(ROW)[:-400].encode(), "does not end"),
    "two-corners.stl": (text_stl(ROW).replace("vertex", "corner", 1).encode(), "has not three corners"),
    "word.stl": (text_stl(ROW).replace("vertex 0", "vertex zero", 1).encode(), "is not a number"),
    "nan.stl": (with_nan(binary_stl(ROW)), "is not a number"),
    "nan-text.stl": (text_stl(ROW).replace("vertex 0.000000e+00", "vertex nan", 1).encode(), "is not a number"),
    "far.stl": (with_far(binary_stl(ROW)), "10 km"),
    "glb.stl": (foreign(), "is a GLB model"),
    "step.stl": (b"ISO-10303-21;\nHEADER;\n", "is a STEP model"),
    "stl.glb": (binary_stl(ROW), "is not a GLB model"),
    "cut.step": (b"ISO-10303-21;\nHEADER;\n", "does not end with"),
    "text.step": (b"Dear all, the molding is ready." * 9, "is not a STEP model"),
    "cut.glb": (foreign()[:-100], "it has "),
    "head.glb": (b"glTF\2\0\0\0", "is not a GLB model that can be read"),
    "version.glb": (b"glTF" + struct.pack("<I", 1) + foreign()[8:], "glTF 2.0"),
    "sparse.glb": (foreign(change=sparse), "sparse"),
    "compressed.glb": (foreign(change=compressed), "compressed"),
    "strips.glb": (foreign(change=strips), "strips"),
    "past.glb": (foreign(change=past_the_end), "can be read"),
    "missing.glb": (foreign(change=no_such_accessor), "can be read"),
    "list.glb": (struct.pack("<4sII", b"glTF", 2, 24) + struct.pack("<I4s", 4, b"JSON") + b"[]  ", "can be read"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_gets_one_clear_error(name: str, tmp_path: Path) -> None:
    data, said = BAD[name]
    path = tmp_path / name
    path.write_bytes(data)
    assert said in refusal(path)


def test_a_broken_step_file_gets_one_clear_error(tmp_path: Path) -> None:
    pytest.importorskip("cadquery")
    path = tmp_path / "broken.step"
    path.write_text("ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1 = NONSENSE(;\nENDSEC;\nEND-ISO-10303-21;\n")
    assert "STEP" in refusal(path)


def test_a_step_file_without_the_cad_kernel_says_what_installs_it(tmp_path: Path, monkeypatch: Any) -> None:
    path = tmp_path / "room.stp"
    path.write_text("ISO-10303-21;\nEND-ISO-10303-21;\n")
    monkeypatch.setattr("preview.models.solid.available", lambda: "it is missing; install it with: pip install it")
    assert "install it with" in refusal(path)


def test_a_missing_file_and_a_folder_are_told(tmp_path: Path) -> None:
    assert "no file of this name" in refusal(tmp_path / "none.stl")
    (tmp_path / "folder.stl").mkdir()
    assert "this is a folder" in refusal(tmp_path / "folder.stl")


def test_a_file_over_the_limit_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.stl"
    with path.open("wb") as file:
        file.truncate(200_000_001)  # sparse: it takes no room on the disk
    assert "and 200 MB is the most" in refusal(path)


def test_other_models_are_told_from_scenes(tmp_path: Path) -> None:
    path = tmp_path / "model.obj"
    path.write_text("v 0 0 0\n")
    assert "are read from" in refusal(path)


# The command ----------------------------------------------------------------------------------------------------------


def run(*arguments: object) -> Any:
    return CliRunner().invoke(app, ["check", *map(str, arguments)])


@pytest.fixture
def row(tmp_path: Path) -> Path:
    path = tmp_path / "row.stl"
    path.write_bytes(binary_stl(ROW))
    return path


def test_the_command_prints_tables(row: Path) -> None:
    done = run(row)
    assert done.exit_code == 0, done.output
    assert "STL, 2 bodies, 1 joint;" in done.stdout
    assert "row 1 and row 2" in done.stdout
    assert done.stdout.rstrip().endswith("All 8 checks hold.")


def test_the_command_fails_on_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "step.stl"
    path.write_bytes(binary_stl((ROW[0], moved(ROW[1], 0, 0, 0.5))))
    done = run(path)
    assert done.exit_code == 1
    assert "FAILED  step 1 and step 2: both profiles stand flush at the joint: 0.5 mm" in done.stdout
    assert done.stdout.rstrip().endswith("1 of 8 checks FAILED.")


def test_one_closed_body_holds_and_an_open_one_fails(tmp_path: Path) -> None:
    for name, body, code in (("whole", ROW[0], 0), ("open", without_a_triangle(ROW[0]), 1), ("in", flipped(ROW[0]), 1)):
        path = tmp_path / f"{name}.stl"
        path.write_bytes(binary_stl((body,)))
        done = run(path)
        assert done.exit_code == code
        assert "there are no joints to measure: the file holds one body" in done.stdout


def test_the_json_holds_it_all(tmp_path: Path) -> None:
    path = tmp_path / "row.glb"
    path.write_bytes(foreign((ROW[0], moved(ROW[1], 0.3, 0, 0))))
    done = run(path, "--json")
    assert done.exit_code == 1
    told = json.loads(done.stdout)
    assert told["schema"] == 1
    assert told["model"] == {"file": "row.glb", "format": "GLB", "units": "mm, z up", "bytes": path.stat().st_size}
    assert told["holds"] is False
    assert [body["name"] for body in told["bodies"]] == ["left", "right"]
    assert all(body["closed"] and body["outward"] for body in told["bodies"])
    (joint,) = told["joints"]
    assert joint["gap_mm"] == pytest.approx(0.3, abs=1e-4)
    assert joint["step_mm"] == pytest.approx(0, abs=1e-4)
    assert joint["gap_judged"]["limit_mm"] < 0.01
    gap = next(check for check in told["checks"] if check["code"] == "gap")
    assert gap["failed"] == 1
    assert gap["failures"][0]["subject"] == "left and right"


@pytest.mark.parametrize("option", [["--solid"], ["--chord", "0.1"]])
def test_options_of_a_scene_make_no_sense_for_a_model(row: Path, option: list[str]) -> None:
    done = run(row, *option)
    assert done.exit_code == 2
    assert option[0] in done.stderr
    assert "for a scene" in done.stderr


def test_a_bad_file_ends_with_2_and_says_nothing_on_stdout(tmp_path: Path) -> None:
    path = tmp_path / "letter.stl"
    path.write_text("Dear all")
    done = run(path)
    assert done.exit_code == 2
    assert not done.stdout
    assert done.stderr.count("fix:") == 1


def test_near_misses_and_sides_are_told_and_not_judged(tmp_path: Path) -> None:
    plain = [(0, 0), (20, 0), (20, 80), (0, 80)]
    cap = [(0, 80), (20, 80), (14, 90), (0, 95)]
    bodies = (straight("board", 0, 900, plain), straight("cap", 0, 900, cap), straight("next", 907, 1500, plain))
    path = tmp_path / "wall.stl"
    path.write_text(text_stl(bodies))
    done = run(path)
    assert done.exit_code == 0
    assert "near miss, not judged: an end of board and an end of next come within 7 mm" in done.stdout
    assert "flat faces that touch and are no joint of two profiles: board and cap (180 cm²)" in done.stdout


def test_triangles_without_an_area_are_told(tmp_path: Path) -> None:
    body = lofted("b", BASE, [np.column_stack([np.full(9, x), *np.array(BASE, dtype=float).T]) for x in (0, 100)])
    path = tmp_path / "thin.stl"
    extra = Body("b", (), body.vertices, np.concatenate([body.triangles, [[0, 1, 1]]]), None, 0.0)
    path.write_bytes(binary_stl((extra,)))
    done = run(path)
    assert done.exit_code == 0, done.stdout
    assert "1 triangle without an area left out" in done.stdout
