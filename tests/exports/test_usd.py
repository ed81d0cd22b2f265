"""USDZ packages, read back by usd-core, its validators, zipfile, and a few lines that follow the specification."""

from __future__ import annotations

import hashlib
import io
import os
import re
import struct
import subprocess
import sys
import types
import zipfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tinyusdz
from pxr import Gf, Kind, Sdf, Usd, UsdGeom, UsdShade, UsdValidation

import preview
from export_jobs import storage_step
from preview.build import Built, build
from preview.client.page.finishes import Finishes
from preview.errors import PreviewError
from preview.exports import usd
from preview.exports.usd import usd_bytes, usdz_bytes
from preview.joinery import piece_lengths
from preview.models.mesh import PieceMesh, SurroundingMesh, mesh_surroundings
from preview.scene import Finish, Scene, load_scene, parse_scene

SCENES = Path(__file__).parents[2] / "scenes"
HOSTILE = """
title = "Ünï \U0001f6aa </a> \\"q\\" {b} @c@ ../.. \\\\"
units = "mm"
[profile.strip]
foot = 20
face = [{ fillet = 40 }]
[finish.'1/2 "matt" <white>']
color = "#808080"
[finish."1-2 matt white"]
color = "#123456"
kind = "clear"
[finish."Λευκό"]
color = "#ff0000"
[finish.brass]
color = "#c0a040"
kind = "metal"
metallic = 1.0
[member.'1/2 "cap" ../..']
profile = "strip"
up = 40
finish = '1/2 "matt" <white>'
[member."Βάση"]
profile = "strip"
finish = "brass"
[[run]]
name = "materials"
members = ['1/2 "cap" ../..', "Βάση"]
room = "right"
steps = [{ straight = 400 }, { left = 90 }, { straight = 300 }]
[[run]]
name = 'surroundings'
members = ["Βάση"]
room = "left"
wall = 900
start = [0, -2000]
steps = [{ straight = 400 }, { curve_left = 90, radius = 200 }, { straight = 300 }]
[[run]]
name = "a/b <x> \U0001f6aa ${HOME}"
members = ["Βάση"]
room = "left"
start = [3000, -2000]
steps = [{ straight = 400 }]
[[run]]
name = "A-b x HOME"
members = ["Βάση"]
room = "left"
start = [3000, -3000]
steps = [{ straight = 400 }]
[[surrounding]]
name = "materials/Βάση"
kind = "box"
at = [100, 100]
size = [200, 200]
top = 400
"""


def scenes() -> dict[str, Scene]:
    files = ("window-seat", "stair-hall", "bar-front")
    return {name: load_scene(SCENES / f"{name}.toml") for name in files} | {
        "hostile": parse_scene(HOSTILE, Path("hostile.toml"))
    }


@dataclass(frozen=True)
class Packed:
    """A scene that is built, its package, and the stage that usd-core makes of the package's file."""

    built: Built
    data: bytes
    path: Path
    stage: Any

    def prim(self, title: str) -> Any:
        (found,) = [prim for prim in self.meshes() if prim.GetDisplayName() == title]
        return found

    def meshes(self) -> list[Any]:
        return [prim for prim in self.stage.Traverse() if prim.IsA(UsdGeom.Mesh)]

    def pieces(self) -> list[Any]:
        return [prim for prim in self.meshes() if "piece" in prim.GetCustomData()]

    def around(self) -> list[Any]:
        return [prim for prim in self.meshes() if "surrounding" in prim.GetCustomData()]


@pytest.fixture(scope="module")
def every(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Packed]:
    folder = tmp_path_factory.mktemp("usd")
    found = {}
    for name, scene in scenes().items():
        built = build(scene)
        data = usdz_bytes(built)
        path = folder / f"{name}.usdz"
        path.write_bytes(data)
        found[name] = Packed(built, data, path, Usd.Stage.Open(str(path)))
    return found


@pytest.fixture(params=["window-seat", "stair-hall", "bar-front", "hostile"])
def packed(request: pytest.FixtureRequest, every: dict[str, Packed]) -> Packed:
    return every[request.param]


def world(prim: Any) -> np.ndarray:
    """A mesh's points (v, 3) where they stand, float64."""
    points = np.array(UsdGeom.Mesh(prim).GetPointsAttr().Get(), dtype=float)
    matrix = np.array(UsdGeom.Xformable(prim).ComputeLocalToWorldTransform(Usd.TimeCode.Default()))
    return points @ matrix[:3, :3] + matrix[3, :3]  # rows: USD's vectors stand before its matrices


def y_up(rows: np.ndarray) -> np.ndarray:
    """x, y, z with z up, as x, z, -y."""
    return np.stack([rows[:, 0], rows[:, 2], -rows[:, 1]], axis=1)


def triangles(prim: Any) -> np.ndarray:
    mesh = UsdGeom.Mesh(prim)
    assert set(mesh.GetFaceVertexCountsAttr().Get()) == {3}
    return np.array(mesh.GetFaceVertexIndicesAttr().Get()).reshape(-1, 3)


def volume(points: np.ndarray, faces: np.ndarray) -> float:
    a, b, c = (points[faces[:, i]] - points[0] for i in range(3))
    return float((a * np.cross(b, c)).sum() / 6)


def material(prim: Any) -> Any:
    return UsdShade.MaterialBindingAPI(prim).ComputeBoundMaterial()[0]


def surface(prim: Any) -> dict[str, Any]:
    """What the UsdPreviewSurface of a prim's material says."""
    shader = material(prim).ComputeSurfaceSource()[0]
    assert shader.GetIdAttr().Get() == "UsdPreviewSurface"
    return {given.GetBaseName(): given.Get() for given in shader.GetInputs()}


def faults(stage: Any) -> list[tuple[str, str]]:
    """What all of usd-core's validators find, those for packages among them: errors, warnings and remarks."""
    validators = UsdValidation.ValidationRegistry().GetOrLoadAllValidators()
    return [
        (found.GetValidator().GetMetadata().name.split(":")[1], found.GetMessage())
        for found in UsdValidation.ValidationContext(validators).Validate(stage)
    ]


def test_the_validators_find_nothing(packed: Packed) -> None:
    assert faults(packed.stage) == []


def test_the_validators_are_those_meant() -> None:
    known = UsdValidation.ValidationRegistry().GetAllValidatorMetadata()
    names = {about.name.split(":")[1] for about in known}
    assert {"StageMetadataChecker", "EncapsulationChecker", "ShaderSdrCompliance", "CompositionErrorTest"} <= names
    assert {"UsdzPackageValidator", "RootPackageValidator", "MaterialBindingApiAppliedValidator"} <= names


def planted(layer: Any, fault: str) -> None:
    """Spoil a layer of one scene in one way."""
    if fault == "up axis":
        layer.pseudoRoot.ClearInfo("upAxis")
    elif fault == "default prim":
        layer.ClearDefaultPrim()
    elif fault == "binding":
        layer.GetPrimAtPath("/model/surroundings/surroundings_seat_left").ClearInfo("apiSchemas")
    else:
        shader = layer.GetPrimAtPath("/model/materials/white/surface")
        del shader.properties["inputs:roughness"]
        Sdf.AttributeSpec(shader, "inputs:roughness", Sdf.ValueTypeNames.Color3f)


@pytest.mark.parametrize(
    ("fault", "by"),
    {
        "up axis": "StageMetadataChecker",
        "default prim": "StageMetadataChecker",
        "binding": "MaterialBindingApiAppliedValidator",
        "shader": "ShaderSdrCompliance",
    }.items(),
)
def test_the_validators_find_what_is_planted(fault: str, by: str, every: dict[str, Packed], tmp_path: Path) -> None:
    path = tmp_path / "spoiled.usdc"
    path.write_bytes(usd_bytes(every["window-seat"].built))
    stage = Usd.Stage.Open(str(path))
    assert faults(stage) == []
    planted(stage.GetRootLayer(), fault)
    assert by in [name for name, _ in faults(stage)]


def starts(package: bytes) -> list[int]:
    """Where the bytes of each file in a zip begin (APPNOTE 6.3, 4.3.7: 30 bytes, the name, the extra field)."""
    found = []
    for about in zipfile.ZipFile(io.BytesIO(package)).infolist():
        assert package[about.header_offset :][:4] == b"PK\3\4"
        name, extra = struct.unpack_from("<HH", package, about.header_offset + 26)
        found.append(about.header_offset + 30 + name + extra)
    return found


def test_the_package_is_a_plain_zip_aligned_to_64_bytes(packed: Packed) -> None:
    """USDZ specification, "Zip Constraints" and "Layout": stored, not encrypted, the layer first, data at 64 n."""
    with zipfile.ZipFile(io.BytesIO(packed.data)) as archive:
        assert archive.testzip() is None
        (about,) = archive.infolist()
        inside = archive.read(about)
    assert about.filename == "model.usdc"
    assert about.compress_type == zipfile.ZIP_STORED
    assert about.compress_size == about.file_size == len(inside)
    assert about.flag_bits == 0  # neither encrypted nor with its sizes behind it
    assert about.date_time == (1980, 1, 1, 0, 0, 0)
    assert about.create_version <= 20  # without the extension for large files
    (start,) = starts(packed.data)
    assert start % 64 == 0
    assert packed.data[start : start + 8] == b"PXR-USDC"
    assert inside == usd_bytes(packed.built)


def test_a_zip_that_is_not_aligned_is_found(every: dict[str, Packed], tmp_path: Path) -> None:
    path = tmp_path / "loose.usdz"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("model.usdc", usd_bytes(every["bar-front"].built))
    (start,) = starts(path.read_bytes())
    assert start % 64
    assert "UsdzPackageValidator" in [name for name, _ in faults(Usd.Stage.Open(str(path)))]


def test_units_and_root(packed: Packed) -> None:
    stage, scene = packed.stage, packed.built.scene
    assert UsdGeom.GetStageMetersPerUnit(stage) == 1.0
    assert stage.HasAuthoredMetadata("metersPerUnit")
    assert UsdGeom.GetStageUpAxis(stage) == UsdGeom.Tokens.y
    assert stage.GetRootLayer().customLayerData == {"creator": f"molding-preview {preview.__version__}"}
    root = stage.GetDefaultPrim()
    assert root.GetPath() == "/model"
    assert root.GetDisplayName() == root.GetCustomData()["title"] == scene.title
    assert root.GetCustomData()["digest"] == packed.built.digest
    assert "meters" in root.GetCustomData()["units"]
    assert Usd.ModelAPI(root).GetKind() == Kind.Tokens.assembly
    assert [prim.GetPath() for prim in stage.GetPseudoRoot().GetChildren()] == ["/model"]


def test_every_piece_is_there_by_its_name(packed: Packed) -> None:
    built = packed.built
    pieces = packed.pieces()
    assert Counter(prim.GetDisplayName() for prim in pieces) == Counter(piece.name for piece in built.pieces)
    for piece, look in zip(built.pieces, built.members, strict=True):
        prim = packed.prim(piece.name)
        assert re.fullmatch("[a-z_][a-z0-9_]*", prim.GetName())
        told = {"piece": piece.name, "run": piece.run, "member": piece.member, "kind": piece.kind}
        assert prim.GetCustomData().items() >= told.items()
        assert prim.GetCustomData()["length_mm"] == pytest.approx(piece_lengths(piece)["overall"], abs=5e-4)
        assert prim.GetParent().GetDisplayName() == look.name
        assert prim.GetParent().GetParent().GetDisplayName() == piece.run
        assert Usd.ModelAPI(prim).GetKind() == Kind.Tokens.component
        assert prim.IsModel()  # every prim above it is a group, up to the assembly
    names = [prim.GetName() for prim in pieces]
    assert len({*names}) == len(names)


def test_every_piece_has_its_volume(packed: Packed) -> None:
    """The closed form (area by the path of the centroid), the mesh, and the numbers as stored agree."""
    for mesh, exact in zip(packed.built.meshes, packed.built.volumes, strict=True):
        points, faces = world(packed.prim(mesh.piece.name)), triangles(packed.prim(mesh.piece.name))
        slack = 1000 * storage_step(points) * mesh.area
        assert abs(volume(points, faces) * 1e9 - mesh.volume) <= slack, mesh.piece.name
        assert abs(volume(points, faces) * 1e9 - exact) <= slack + packed.built.scene.chord * mesh.area


def test_every_piece_stands_in_its_place(packed: Packed) -> None:
    cache = UsdGeom.BBoxCache(Usd.TimeCode.Default(), [UsdGeom.Tokens.default_])
    for mesh in packed.built.meshes:
        prim = packed.prim(mesh.piece.name)
        place = y_up(mesh.points) / 1000
        box = cache.ComputeWorldBound(prim).ComputeAlignedRange()
        assert np.array([box.GetMin(), box.GetMax()]) == pytest.approx(
            np.array([place.min(axis=0), place.max(axis=0)]), abs=1e-6
        )
        points = np.array(UsdGeom.Mesh(prim).GetPointsAttr().Get())
        extent = np.array(UsdGeom.Mesh(prim).GetExtentAttr().Get())
        assert (extent == [points.min(axis=0), points.max(axis=0)]).all()


def test_a_length_is_that_of_the_wood(every: dict[str, Packed]) -> None:
    """400 mm along the wall, and the miter of a strip 20 mm thick round an outside corner: 20 mm more."""
    assert every["hostile"].prim("materials / Βάση / 1 straight").GetCustomData()["length_mm"] == 420.0


def test_the_tree_keeps_the_scenes_order(packed: Packed) -> None:
    root = packed.stage.GetDefaultPrim()
    first, *runs, last = root.GetChildren()
    assert (first.GetName(), last.GetName()) == ("materials", "surroundings")
    assert [run.GetDisplayName() for run in runs] == list(dict.fromkeys(piece.run for piece in packed.built.pieces))
    assert [prim.GetDisplayName() for prim in packed.pieces()] == [piece.name for piece in packed.built.pieces]


def test_meshes_hold_the_kernels_numbers(packed: Packed) -> None:
    """Vertex by vertex: 32-bit points within half a step of the true ones, and the same normals and coordinates."""
    built = packed.built
    around = mesh_surroundings(built.scene.surroundings, built.scene.runs, built.scene.chord)
    bodies: list[tuple[Any, PieceMesh | SurroundingMesh]] = [*zip(packed.around(), around, strict=True)]
    bodies += [(packed.prim(mesh.piece.name), mesh) for mesh in built.meshes]
    for prim, body in bodies:
        piece = isinstance(body, PieceMesh)
        points = body.points[body.shape.corner_point] if piece else body.points
        mesh = UsdGeom.Mesh(prim)
        assert np.abs(world(prim) - y_up(points) / 1000).max() <= storage_step(world(prim)) / 2 + 1e-12
        assert (np.array(mesh.GetNormalsAttr().Get()) == y_up(body.normals).astype(np.float32)).all()
        assert (triangles(prim) == (body.shape.render_triangles if piece else body.triangles)).all()
        assert mesh.GetNormalsInterpolation() == UsdGeom.Tokens.vertex
        assert mesh.GetSubdivisionSchemeAttr().Get() == UsdGeom.Tokens.none
        assert mesh.GetOrientationAttr().Get() == UsdGeom.Tokens.rightHanded
        assert mesh.GetDoubleSidedAttr().Get() == (not piece and body.both_sides)
        st = UsdGeom.PrimvarsAPI(prim).GetPrimvar("st")
        assert st.HasValue() == piece
        if piece:
            assert st.GetTypeName() == Sdf.ValueTypeNames.TexCoord2fArray
            assert st.GetInterpolation() == UsdGeom.Tokens.vertex
            assert (np.array(st.Get()) == body.uvs).all()


def test_mating_faces_are_equal_to_the_last_bit(every: dict[str, Packed]) -> None:
    packed = every["window-seat"]
    pairs = [pair for pair in packed.built.joints if pair.before is not None and pair.after is not None]
    assert len(pairs) == len(packed.built.pieces) - 1
    for pair in pairs:
        meshes = [packed.built.meshes[i] for i in (pair.before, pair.after)]
        prims = [packed.prim(mesh.piece.name) for mesh in meshes]
        assert len({prim.GetParent() for prim in prims}) == 1  # and so they are moved as one
        sets = [{point.tobytes() for point in np.array(UsdGeom.Mesh(p).GetPointsAttr().Get())} for p in prims]
        assert len(sets[0] & sets[1]) == len(meshes[0].shape.face.d)


def test_surroundings_stand_in_a_group_of_their_own(packed: Packed) -> None:
    scene = packed.built.scene
    around = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
    assert around
    assert [prim.GetCustomData()["surrounding"] for prim in packed.around()] == [mesh.name for mesh in around]
    group = packed.stage.GetPrimAtPath("/model/surroundings")
    assert Usd.ModelAPI(group).GetKind() == Kind.Tokens.group
    assert group.GetChildren() == packed.around()
    assert not group.GetDisplayName()  # no run's
    assert any(mesh.both_sides for mesh in around)


def light(finish: Finish) -> Any:
    """A finish's sRGB color in linear light of the same primaries, as usd-core's color spaces have it."""
    srgb, linear = (Gf.ColorSpace(name) for name in ("srgb_rec709_scene", "lin_rec709_scene"))
    return linear.Convert(srgb, Gf.Vec3f(*finish.color)).GetRGB()


def test_materials_are_the_finishes(packed: Packed) -> None:
    built = packed.built
    scene = built.scene
    around = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
    worn = [(mesh.piece.name, look.finish) for mesh, look in zip(built.meshes, built.members, strict=True)]
    for prim, finish in [(packed.prim(name), finish) for name, finish in worn] + [
        (prim, mesh.finish) for prim, mesh in zip(packed.around(), around, strict=True)
    ]:
        assert material(prim).GetPrim().GetDisplayName() == finish.name
        look = surface(prim)
        assert look.keys() == {"diffuseColor", "metallic", "roughness"}
        assert tuple(look["diffuseColor"]) == pytest.approx(tuple(light(finish)), abs=2e-5)
        assert (look["roughness"], look["metallic"]) == pytest.approx((finish.roughness, finish.metallic))
    shown = {finish for _, finish in worn} | {mesh.finish for mesh in around}
    shown |= {finish for finish in scene.finishes if finish.kind in ("paint", "clear")}
    materials = packed.stage.GetPrimAtPath("/model/materials").GetChildren()
    assert Counter(prim.GetDisplayName() for prim in materials) == Counter(finish.name for finish in shown)


def test_a_viewer_may_switch_each_member_as_on_the_page(packed: Packed) -> None:
    built = packed.built
    worn = {member.name: member.finish.name for member in built.members}
    offered = [finish["name"] for finish in Finishes([built]).records() if finish["molding"]]
    stage = Usd.Stage.Open(packed.stage.GetRootLayer(), packed.stage.GetSessionLayer())
    root = stage.GetDefaultPrim()
    sets = root.GetCustomData()["finish_sets"]
    assert sorted(sets) == sorted(root.GetVariantSets().GetNames())
    assert sorted(sets.values()) == (sorted(worn) if len(offered) > 1 else [])
    titles = {prim.GetName(): prim.GetDisplayName() for prim in stage.GetPrimAtPath("/model/materials").GetChildren()}
    for name, member in sets.items():
        choice = root.GetVariantSet(name)
        drawn = choice.GetVariantSelection()
        assert titles[drawn] == worn[member]
        assert Counter(titles[each] for each in choice.GetVariantNames()) == Counter(offered)
        for variant in choice.GetVariantNames():
            with Usd.EditContext(stage, stage.GetSessionLayer()):
                choice.SetVariantSelection(variant)
            wears = worn | {member: titles[variant]}
            for prim in Usd.PrimRange(root):
                if "piece" in prim.GetCustomData():
                    assert material(prim).GetPrim().GetDisplayName() == wears[prim.GetParent().GetDisplayName()]
            assert faults(stage) == []
        with Usd.EditContext(stage, stage.GetSessionLayer()):
            choice.SetVariantSelection(drawn)


def test_a_reader_without_variants_shows_what_is_drawn(every: dict[str, Packed]) -> None:
    """tinyusdz hands on a prim's own bindings, and works no variants out: each member's group has its finish."""
    for name in ("window-seat", "stair-hall", "hostile"):
        worn = {member.name: member.finish.name for member in every[name].built.members}
        (root,) = tinyusdz.load(str(every[name].path)).root_prims()
        above = {child.name: child.children() for child in root.children() if child.name != "surroundings"}
        titles = {f"/model/materials/{each.name}": each.get_metadata("displayName") for each in above.pop("materials")}
        groups = [group for groups in above.values() for group in groups]
        assert len(groups) >= len(worn)
        for group in groups:
            own = group.to_string().partition("def Mesh")[0]
            (bound,) = re.findall("rel material:binding = <(.*)>", own)
            assert titles[bound] == worn[group.get_metadata("displayName")]
            assert group.children()
            assert not any("material:binding" in piece.property_names() for piece in group.children())


def test_the_sets_are_named_for_what_they_switch(every: dict[str, Packed]) -> None:
    sets = {name: dict(each.stage.GetDefaultPrim().GetCustomData()["finish_sets"]) for name, each in every.items()}
    assert sets == {
        "window-seat": {"finish": "base"},
        "stair-hall": {"finish_board": "board", "finish_cap": "cap", "finish_shoe": "shoe"},
        "bar-front": {},
        "hostile": {"finish__1_2_cap": '1/2 "cap" ../..', "finish_member": "Βάση"},
    }


def test_other_finishes_may_be_offered(every: dict[str, Packed], tmp_path: Path) -> None:
    black = Finish("black", (0.0, 0.0, 0.0))
    path = tmp_path / "black.usdz"
    path.write_bytes(usdz_bytes(every["bar-front"].built, [black]))
    stage = Usd.Stage.Open(str(path))
    choice = stage.GetDefaultPrim().GetVariantSet("finish")
    assert (sorted(choice.GetVariantNames()), choice.GetVariantSelection()) == (["black", "walnut"], "walnut")
    assert faults(stage) == []


def test_hostile_names_stay_apart(every: dict[str, Packed]) -> None:
    hostile = every["hostile"]
    root = hostile.stage.GetDefaultPrim()
    names = {prim.GetDisplayName(): prim.GetName() for prim in root.GetChildren()}
    assert hostile.stage.GetPrimAtPath("/model/materials").IsA(UsdGeom.Scope)
    assert hostile.stage.GetPrimAtPath("/model/materials_2").GetDisplayName() == "materials"
    assert hostile.stage.GetPrimAtPath("/model/surroundings_2").GetDisplayName() == "surroundings"
    assert names["a/b <x> \U0001f6aa ${HOME}"] == "a_b_x_home"
    assert names["A-b x HOME"] == "a_b_x_home_2"
    finishes = hostile.stage.GetPrimAtPath("/model/materials").GetChildren()
    assert {prim.GetDisplayName(): prim.GetName() for prim in finishes} == {
        '1/2 "matt" <white>': "_1_2_matt_white",
        "brass": "brass",
        "1-2 matt white": "_1_2_matt_white_2",
        "Λευκό": "finish",
        "plain plaster": "plain_plaster",
        "wall": "wall",
    }


def test_same_job_same_bytes(every: dict[str, Packed]) -> None:
    """In a new process with another seed for hashes and another clock."""
    code = (
        "import hashlib, sys; from pathlib import Path; from preview.build import build\n"
        "from preview.scene import load_scene; from preview.exports.usd import usdz_bytes\n"
        "print(hashlib.sha256(usdz_bytes(build(load_scene(Path(sys.argv[1]))))).hexdigest())"
    )
    job = every["stair-hall"]
    assert usdz_bytes(job.built) == job.data
    done = subprocess.run(
        [sys.executable, "-c", code, str(SCENES / "stair-hall.toml")],
        env=os.environ | {"PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo"},
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    assert done.stdout.strip() == hashlib.sha256(job.data).hexdigest()
    assert b"molding-usd-" not in job.data  # nor where it was made


def test_without_usd_core_it_says_what_to_install(every: dict[str, Packed], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pxr", None)
    with pytest.raises(PreviewError) as caught:
        usdz_bytes(every["bar-front"].built)
    (problem,) = caught.value.problems
    assert "usd-core" in problem.problem
    assert problem.fix == 'pip install "molding-preview[usd]"'


def test_a_broken_usd_core_is_told_apart(every: dict[str, Packed], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pxr", types.ModuleType("pxr"))
    monkeypatch.delitem(sys.modules, "pxr.Sdf")
    with pytest.raises(PreviewError, match="cannot be loaded"):
        usdz_bytes(every["bar-front"].built)


def test_a_model_that_does_not_fit_is_refused(every: dict[str, Packed], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(usd, "MOST_BYTES", 100_000)
    with pytest.raises(PreviewError, match="a USDZ holds less than 4"):
        usdz_bytes(every["bar-front"].built)


def test_a_disk_that_takes_nothing_is_told(
    every: dict[str, Packed], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    with pytest.raises(PreviewError):
        usdz_bytes(every["bar-front"].built)


def test_usd_core_is_not_loaded_at_start() -> None:
    code = "import sys, preview.exports.usd; print('pxr' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True)
    assert done.stdout.strip() == "False"
