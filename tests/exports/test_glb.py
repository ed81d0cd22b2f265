"""GLB files, read back by trimesh, the Khronos validator and a few lines that follow the specification."""

from __future__ import annotations

import hashlib
import math
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import trimesh

import gltf
import preview
from export_jobs import CHORD, NASTY, OAK, PAINT, Job, Raw, jobs, storage_step, written
from preview.errors import PreviewError
from preview.exports import Part, glb_bytes, gltf_arrays
from preview.exports.gltf_arrays import Arrays
from preview.exports.gltf_materials import linear
from preview.joinery import exact_volume, piece_lengths
from preview.models.mesh import mesh_surroundings
from preview.runs import through_points
from preview.scene import Finish, Surrounding

MOLDING = [name for name, job in jobs().items() if job.members]


def loaded(path: Path) -> dict[str, trimesh.Trimesh]:
    """The meshes of a file by the names of their nodes, in the scene's place, as trimesh reads them."""
    scene = trimesh.load(path, force="scene", process=False)
    found = {}
    for node in scene.graph.nodes_geometry:
        matrix, geometry = scene.graph[node]
        mesh = scene.geometry[geometry].copy()
        mesh.apply_transform(matrix)
        found[node] = mesh
    return found


def welded(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    """The mesh by its positions alone, equal ones made one."""
    points, inverse = np.unique(np.asarray(mesh.vertices), axis=0, return_inverse=True)
    return trimesh.Trimesh(points, inverse.ravel()[mesh.faces], process=False)


@pytest.mark.parametrize("name", jobs())
def test_the_khronos_validator_finds_nothing(name: str, tmp_path: Path) -> None:
    job = jobs()[name]
    report = gltf.validate(written(job, tmp_path))
    assert (report.errors, report.warnings, report.infos, report.hints) == (0, 0, 0, 0), report
    alike = "Βάση"  # the run that is another's copy, and shares its meshes
    meshes = [mesh for mesh in job.meshes() if mesh.piece.run != alike]
    if meshes and not job.surroundings:
        assert report.info["totalTriangleCount"] == sum(len(mesh.triangles) for mesh in meshes)
        assert report.info["totalVertexCount"] == sum(len(mesh.normals) for mesh in meshes)


@pytest.mark.parametrize("name", MOLDING)
def test_every_piece_is_a_named_closed_body_of_its_volume(name: str, tmp_path: Path) -> None:
    job = jobs()[name]
    raw = Raw.of(job.glb())
    found = loaded(written(job, tmp_path))
    meshes = job.meshes()
    assert {node for node in found if not node.startswith("surroundings / ")} == {m.piece.name for m in meshes}
    for mesh in meshes:
        stored = raw.attribute(mesh.piece.name, "POSITION")
        body = welded(found[mesh.piece.name])
        assert body.is_volume, mesh.piece.name
        slack = 1000 * storage_step(stored) * mesh.area
        where = 1e-9 * mesh.area  # trimesh places bodies in float64; far from the origin it sums away some digits
        reach = float(np.abs(np.asarray(found[mesh.piece.name].vertices)).max())
        assert abs(_volume(stored, raw.triangles(mesh.piece.name)) * 1e9 - mesh.volume) <= slack
        if reach < 100:
            assert abs(body.volume * 1e9 - mesh.volume) <= slack + where
        assert abs(mesh.volume - exact_volume(mesh.piece)) <= CHORD * mesh.area


def _volume(points: np.ndarray, triangles: np.ndarray) -> float:
    a, b, c = (points.astype(float)[triangles[:, i]] for i in range(3))
    return float((a * np.cross(b, c)).sum() / 6)


def test_metres_and_y_up(tmp_path: Path) -> None:
    """A meter along plan x, 90 mm high; plan y, into the room, is -Z (glTF 2.0, section 3.4)."""
    (body,) = loaded(written(jobs()["straight"], tmp_path)).values()
    assert body.bounds == pytest.approx(np.array([[0, 0, -0.020], [1.0, 0.090, 0]]), abs=1e-7)


def test_a_run_stands_at_its_start() -> None:
    job = jobs()["far away"]
    raw = Raw.of(job.glb())
    assert raw.node("far")["translation"] == [2000.0, 0.0, 3000.0]
    # 3.6 km out, and stored to a ten-thousandth of a millimeter all the same.
    assert max(storage_step(raw.attribute(m.piece.name, "POSITION")) for m in job.meshes()) < 1.3e-7
    assert raw.node("far / base / 1 straight").keys() == {"name", "mesh", "extras"}


@pytest.mark.parametrize("name", ["tangent curve", "curved miter", "closed", "far away", "miter, inside corner"])
def test_mating_faces_are_equal_to_the_last_bit(name: str) -> None:
    job = jobs()[name]
    raw = Raw.of(job.glb())
    meshes = job.meshes()
    neighbors = list(pairwise(meshes)) + ([(meshes[-1], meshes[0])] if job.runs[0].closed else [])
    assert neighbors
    for one, other in neighbors:
        n = len(one.shape.face.d)
        sets = [{point.tobytes() for point in raw.attribute(m.piece.name, "POSITION")} for m in (one, other)]
        assert len(sets[0]) == len(one.points)
        assert len(sets[0] & sets[1]) == n, (one.piece.name, other.piece.name)


def test_bounds_are_those_of_the_stored_numbers() -> None:
    raw = Raw.of(jobs()["everything"].glb())
    checked = 0
    for accessor, entry in enumerate(raw.document["accessors"]):
        if "min" in entry:
            assert entry["min"] == raw.array(accessor).min(axis=0).tolist()
            assert entry["max"] == raw.array(accessor).max(axis=0).tolist()
            checked += 1
    assert checked == len(raw.document["meshes"]) > 0


def test_the_tree_and_what_it_says() -> None:
    job = jobs()["everything"]
    raw = Raw.of(job.glb(digest="feed"))
    nodes = raw.document["nodes"]
    program = {"program": "molding-preview", "version": preview.__version__}
    assert raw.document["asset"] == {
        "version": "2.0",
        "generator": f"molding-preview {preview.__version__}",
        "extras": {"title": "Everything", "digest": "feed"} | program,
    }
    assert not {"cameras", "extensions"} & raw.document.keys()
    (scene,) = raw.document["scenes"]
    assert scene["name"] == scene["extras"]["title"] == "Everything"
    assert scene["extras"]["digest"] == "feed"
    assert "meters" in scene["extras"]["units"]
    (root,) = scene["nodes"]
    assert nodes[root]["name"] == "Everything"
    assert [nodes[i]["name"] for i in nodes[root]["children"]] == ["bench front", "bay", "surroundings"]
    for run in job.runs:
        names = [nodes[i]["name"] for i in raw.node(run.name)["children"]]
        assert names == [m.piece.name for m in job.meshes() if m.piece.run == run.name]
    node = raw.node("bay / shoe / 2 curve")
    assert node["extras"] == {
        "piece": "bay / shoe / 2 curve",
        "run": "bay",
        "member": "shoe",
        "kind": "curve",
        "length_mm": 259.3,
        "digest": "feed",
    }
    assert raw.document["meshes"][node["mesh"]]["name"] == node["name"]
    shown = [nodes[i] for i in raw.node("surroundings")["children"]]
    assert [node["extras"]["surrounding"] for node in shown] == [
        "ground",
        "bench",
        "case",
        "pier",
        "bench front / wall",
        "bay / wall",
    ]
    assert [node["extras"]["kind"] for node in shown] == ["floor", "box", "box", "column", "wall", "wall"]


def test_a_piece_says_how_long_it_is() -> None:
    """Over all, by hand: an outside miter of a right angle adds the projection, and a wrapped curve travels furthest
    at its face. The rest as the cut list has it, to the 0.1 mm that is told."""
    known = {
        "straight": [1000.0],
        "miter, outside corner": [420.0, 320.0],
        "tangent curve": [400.0, round(math.pi / 2 * (60 + 20), 1), 250.0],
    }
    told = {}
    for name in (*known, "curved miter", "closed", "everything"):
        raw = Raw.of(jobs()[name].glb())
        told[name] = [raw.node(mesh.piece.name)["extras"]["length_mm"] for mesh in jobs()[name].meshes()]
        due = [piece_lengths(mesh.piece)["overall"] for mesh in jobs()[name].meshes()]
        assert told[name] == pytest.approx(due, abs=0.051)
    assert {name: told[name] for name in known} == known


def test_names_come_through_as_they_were_given(tmp_path: Path) -> None:
    job = jobs()["nasty names"]
    raw = Raw.of(job.glb())
    names = {node["name"] for node in raw.document["nodes"]}
    assert names >= {job.title, NASTY, "Βάση", f"{NASTY} / {NASTY} / 1 straight", "Βάση / sööe / 2 straight"}


# The two halves of the sRGB curve as IEC 61966-2-1 prints them, the other way: from light to color.
@pytest.mark.parametrize("color", [0.0, 0.01, 0.04045, 0.0405, 0.2, 0.5, 0.735, 1.0])
def test_colors_become_light(color: float) -> None:
    light = linear(color)
    back = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
    assert back == pytest.approx(color, abs=2e-7)


def test_one_material_for_each_finish() -> None:
    raw = Raw.of(jobs()["two members"].glb())
    paint, oak = raw.document["materials"]
    look = paint["pbrMetallicRoughness"]
    assert (paint["name"], oak["name"]) == ("harbor white", "oak")
    assert look["baseColorFactor"] == [linear(0.5), linear(0.75), 1.0, 1.0]
    assert (look["roughnessFactor"], look["metallicFactor"]) == (0.35, 0.0)
    assert "doubleSided" not in paint
    assert raw.primitive("bench front / base / 1 straight")["material"] == 0
    assert raw.primitive("bench front / shoe / 2 straight")["material"] == 1


def test_sheets_are_shown_from_both_sides() -> None:
    raw = Raw.of(jobs()["everything"].glb())
    materials = raw.document["materials"]

    def both(name: str) -> bool:
        return bool(materials[raw.primitive(f"surroundings / {name}")["material"]].get("doubleSided"))

    assert [both(name) for name in ("ground", "bay / wall", "bench", "case", "pier")] == [True, True] + [False] * 3


def test_the_pixel_is_white(tmp_path: Path) -> None:
    """As trimesh hands it on, read by Pillow: it must not change a finish's color."""
    (body,) = loaded(written(jobs()["straight"], tmp_path)).values()
    picture = body.visual.material.baseColorTexture
    assert picture.size == (1, 1)
    assert picture.convert("RGB").getpixel((0, 0)) == (255, 255, 255)


def test_pieces_of_one_shape_share_their_indices() -> None:
    points = [(500.0 * i, 200.0 * (i % 2)) for i in range(41)]
    raw = Raw.of(Job("Zigzag", (through_points("zigzag", points),)).glb())
    users = [primitive["indices"] for mesh in raw.document["meshes"] for primitive in mesh["primitives"]]
    assert len(users) == 40
    assert len(set(users)) == 1


@pytest.mark.parametrize(("vertices", "component"), [(65535, 5123), (65536, 5125)])
def test_indices_take_the_width_they_need(vertices: int, component: int) -> None:
    """16-bit indices end at 65534: 65535 restarts a strip (glTF 2.0, section 3.7.2.1)."""
    triangles = np.array([[0, 1, vertices - 1]], dtype=np.int32)
    arrays = Arrays([], [(vertices, triangles)])
    accessor = arrays.add_triangles(triangles, vertices)
    assert arrays.accessors[accessor]["componentType"] == component


def test_a_large_body_is_sound(tmp_path: Path) -> None:
    pier = Surrounding("pier", "column", (0, 0), (2000, 2000), 1000.0, 0.0, 2400.0, 0.0, OAK)
    (mesh,) = mesh_surroundings([pier], [], 8e-6)
    assert len(mesh.points) > 65535
    path = tmp_path / "large.glb"
    path.write_bytes(glb_bytes("Large", [], [mesh]))
    report = gltf.validate(path)
    assert (report.errors, report.warnings, report.infos) == (0, 0, 0), report
    (body,) = loaded(path).values()
    assert welded(body).volume == pytest.approx(math.pi * 2.4, rel=1e-6)


def test_a_scene_without_anything_is_still_a_file(tmp_path: Path) -> None:
    path = tmp_path / "nothing.glb"
    path.write_bytes(glb_bytes("Nothing", []))
    report = gltf.validate(path)
    assert (report.errors, report.warnings) == (0, 0), report
    assert {message.code for message in report.messages} == {"NODE_EMPTY"}


def test_a_model_past_the_format_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gltf_arrays, "MOST_BYTES", 1000)
    with pytest.raises(PreviewError, match="holds less than 4") as caught:
        jobs()["straight"].glb()
    assert "coarser chord" in caught.value.problems[0].fix


def test_a_number_that_is_none_is_never_written() -> None:
    with pytest.raises(ValueError, match="JSON"):
        glb_bytes("Bad", [Part(mesh, Finish("bad", (math.nan,) * 3)) for mesh in jobs()["straight"].meshes()])


def test_same_input_same_bytes() -> None:
    code = (
        "import hashlib, export_jobs\n"
        "for name in ('everything', 'nasty names', 'closed'):\n"
        "    print(hashlib.sha256(export_jobs.jobs()[name].glb()).hexdigest())"
    )
    here = Path(__file__).parent
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={"PYTHONHASHSEED": "4321", "PYTHONPATH": f"{here}:{here.parent.parent}"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    fresh = [hashlib.sha256(jobs()[name].glb()).hexdigest() for name in ("everything", "nasty names", "closed")]
    assert done.stdout.split() == fresh
    assert fresh[0] == hashlib.sha256(jobs()["everything"].glb()).hexdigest()
    assert len(set(fresh)) == 3


def test_finish_and_place_reach_the_bytes() -> None:
    """What the bytes must not share: another finish, another place."""
    meshes = jobs()["straight"].meshes()
    assert glb_bytes("One", [Part(m, PAINT) for m in meshes]) != glb_bytes("One", [Part(m, OAK) for m in meshes])
