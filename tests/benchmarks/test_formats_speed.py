"""How long each format takes to write and how large it is, against trimesh's own writers in the same run:
pytest tests/benchmarks/test_formats_speed.py

Nothing here asserts a time. Sizes are asserted where they depend on nothing else in the scene. For each format a row
is printed: pieces; seconds, and trimesh's time over ours; bytes, and ours over trimesh's. trimesh gets a scene with
a mesh for each piece, the same triangles and vertices, made beforehand, and nothing to merge or mend. What each holds:

    format  ours                                                    trimesh's
    glb     positions, normals, texture coordinates, equal ones     the same arrays, equal ones once, with 32-bit
            once (here every seventh piece has equal normals); a    indices; a material and a node for each mesh
            material; a named node for each piece, facts, views
            "bare": the same file as above                          without normals and texture coordinates
    gltf    as glb, in separate files                               as glb, in separate files
    stl     triangles with their normals                            the same
    obj     positions (each once), texture coordinates, normals;    positions (once for each normal), texture
            names, a material                                       coordinates, normals; a name for each
    ply     positions, normals, colors (3 bytes), table of pieces   positions, normals, colors (4 bytes); no pieces
            "bare": the same file as above                          without colors
    3mf     positions (each once), triangles, names, a color        positions (each once), triangles, names; no color
    usdz    as glb; trimesh writes none
    dxf     plan and elevation, drawn; trimesh writes none

All of it takes some twenty minutes, most of them trimesh's OBJ and the drawings; -k ply takes a few seconds.
"""

from __future__ import annotations

import functools
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from preview.build import Built, build
from preview.exports import FORMATS, stl_bytes
from preview.exports.glb import built_glb
from preview.scene import parse_scene

ROOT = Path(__file__).parents[2]
UNIT = (
    "{ straight = 300 }", "{ left = 90 }, { straight = 300 }", "{ right = 90 }, { straight = 200 }",
    "{ curve_left = 90, radius = 50 }", "{ straight = 100 }", "{ curve_right = 90, radius = 60 }", "{ straight = 100 }",
)  # fmt: skip
"""The steps of the run that test_speed.py measures: seven pieces, then again."""
COUNTS = (7, 700, 7000)
ROUNDS = {7: 15, 700: 3, 7000: 1}
OURS: dict[str, Callable[[Built], list[bytes]]] = {
    "glb": lambda built: [built_glb(built)],
    "stl": lambda built: [stl_bytes(built.meshes, built.scene.title)],
    **{
        name: lambda built, name=name: [data for _, data in FORMATS[name](built, "bench")]  # type: ignore[misc]
        for name in ("gltf", "obj", "ply", "3mf", "usdz", "dxf")
    },
}
LIKE = ("glb", "glb bare", "gltf", "stl", "obj", "ply", "ply bare", "3mf")
"""What trimesh writes; "bare" where it may leave something out that ours holds."""
SMALLER = ("stl", "obj", "ply", "3mf")
"""Where our files must not be larger."""
MEMORY = ("glb", "gltf", "stl", "obj", "ply", "3mf", "usdz")


@functools.cache
def built(count: int) -> Built:
    steps = ", ".join(UNIT[i % len(UNIT)] for i in range(count))
    text = f"""
    title = "Bench"
    units = "mm"
    [profile.base]
    file = "../profiles/cove-and-bead-base.toml"
    [finish.white]
    color = "#eeeeea"
    [member.base]
    profile = "base"
    finish = "white"
    [[run]]
    name = "bench"
    members = ["base"]
    room = "left"
    steps = [{steps}]
    """
    found = build(parse_scene(text, ROOT / "scenes" / "bench.toml"))
    assert len(found.pieces) == count
    return found


def trimesh_scene(model: Built, like: str) -> Any:
    """What trimesh is to write: see the heading."""
    import trimesh
    from trimesh.visual import ColorVisuals, TextureVisuals
    from trimesh.visual.material import PBRMaterial

    kind, _, bare = like.partition(" ")
    color = [round(255 * part) for part in model.members[0].finish.color] + [255]
    material = PBRMaterial(name="white", baseColorFactor=color, metallicFactor=0.0, roughnessFactor=0.5)
    scene = trimesh.Scene()
    for mesh in model.meshes:
        if kind in ("stl", "3mf"):
            body = trimesh.Trimesh(mesh.points, mesh.triangles, process=False)
        else:
            vertices = mesh.points[mesh.shape.corner_point]
            normals = None if like == "glb bare" else mesh.normals
            body = trimesh.Trimesh(vertices, mesh.shape.render_triangles, vertex_normals=normals, process=False)
            if kind == "ply" and not bare:
                body.visual = ColorVisuals(body, vertex_colors=[color] * len(vertices))
            elif kind in ("glb", "gltf", "obj") and not bare:
                body.visual = TextureVisuals(uv=mesh.uvs, material=material)
        scene.add_geometry(body, node_name=mesh.piece.name, geom_name=mesh.piece.name)
    return scene


def trimesh_bytes(scene: Any, like: str) -> list[bytes]:
    kind, _, bare = like.partition(" ")
    options: dict[str, Any] = {}
    if kind in ("glb", "gltf", "obj"):
        options["include_normals"] = not bare
    if kind == "ply":
        options["vertex_normal"] = True
    found = scene.export(file_type=kind, **options)
    files = found.values() if isinstance(found, dict) else [found]
    return [data.encode() if isinstance(data, str) else data for data in files]


@pytest.fixture(scope="module", autouse=True)
def table(request: pytest.FixtureRequest) -> Iterator[list[str]]:
    """Rows that are printed when all is done."""
    rows: list[str] = []
    yield rows
    manager = request.config.pluginmanager.getplugin("capturemanager")
    with manager.global_and_fixture_disabled():
        print("\n" + "\n".join(rows))


@pytest.mark.parametrize("count", COUNTS)
@pytest.mark.parametrize("like", LIKE)
def test_against_trimesh(benchmark: Any, table: list[str], like: str, count: int) -> None:
    kind = like.split(" ")[0]
    model = built(count)
    scene = trimesh_scene(model, like)
    benchmark.pedantic(OURS[kind], (model,), rounds=ROUNDS[count])
    ours, ratio = [], []
    size = other = 0
    for _ in range(ROUNDS[count]):
        started = time.perf_counter()
        files = OURS[kind](model)
        between = time.perf_counter()
        others = trimesh_bytes(scene, like)
        ours.append(between - started)
        ratio.append((time.perf_counter() - between) / ours[-1])
        size, other = sum(map(len, files)), sum(map(len, others))
        del files, others
    row = (
        f"{like:9} {count:5} {statistics.median(ours):9.4f} s  x {statistics.median(ratio):5.1f}   "
        f"{size:12,} bytes  / {size / other:5.3f}"
    )
    table.append(row)
    benchmark.extra_info["row"] = row
    if like in SMALLER:
        assert size <= other


@pytest.mark.parametrize("count", COUNTS)
@pytest.mark.parametrize("kind", ["usdz", "dxf"])
def test_alone(benchmark: Any, table: list[str], kind: str, count: int) -> None:
    model = built(count)
    started = time.perf_counter()
    size = sum(map(len, OURS[kind](model)))
    row = f"{kind:9} {count:5} {time.perf_counter() - started:9.4f} s            {size:12,} bytes"
    benchmark.pedantic(OURS[kind], (model,), rounds=1)
    table.append(row)
    benchmark.extra_info["row"] = row
    assert size > 0


def peak_while_writing(kind: str, by: str) -> tuple[float, float]:
    """MB (2^20) of a fresh process with 7,000 pieces: what it holds before, and the most that writing adds."""
    code = f"""
import sys
sys.path[:0] = {[str(Path(__file__).parent)]!r}
from pathlib import Path
from test_formats_speed import OURS, built, trimesh_bytes, trimesh_scene

def told(key):
    return next(int(line.split()[1]) for line in Path("/proc/self/status").read_text().splitlines() if key in line)

model = built(7000)
OURS[{kind!r}](built(7))
scene = trimesh_scene(model, {kind!r}) if {by!r} == "trimesh" else None
Path("/proc/self/clear_refs").write_text("5")
before = told("VmRSS")
files = OURS[{kind!r}](model) if scene is None else trimesh_bytes(scene, {kind!r})
print(before / 1024, (told("VmHWM") - before) / 1024)
"""
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    before, more = map(float, done.stdout.split())
    return before, more


@pytest.mark.skipif(not Path("/proc/self/clear_refs").exists(), reason="the most a process held is told by Linux")
@pytest.mark.parametrize("kind", MEMORY)
def test_memory(table: list[str], kind: str) -> None:
    """The most memory that writing 7,000 pieces adds, the file itself included: proc(5), VmHWM after clear_refs."""
    before, more = peak_while_writing(kind, "ours")
    row = f"{kind:9} 7,000 pieces: {before:.0f} MB held, {more:.0f} MB more while writing"
    if kind in LIKE:
        held, other = peak_while_writing(kind, "trimesh")
        row += f"; trimesh {held:.0f} and {other:.0f}"
    table.append(row)
    assert more > 0
