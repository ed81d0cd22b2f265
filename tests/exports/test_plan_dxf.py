"""The drawings for whoever draws the house, read back: by ezdxf, and by a reader of DXF's text that knows pairs only.

What the lines are held against: the cut list's lengths, the meshes' boxes, and closed forms. A miter between a straight
and a curve is the parabola whose points are equally far from the wall line and from the curve's circle (general
geometry: the locus of points equally far from a line and a circle). $INSUNITS 1, 4, 5, 6 are inches, millimeters,
centimeters and meters (DXF reference, header variables; from memory, and ezdxf.units has the same).
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from ezdxf import path as dxf_path
from ezdxf import recover, units
from ezdxf.document import Drawing
from ezdxf.entities.dxfgfx import DXFGraphic
from numpy.typing import NDArray
from shapely import LineString, affinity, box
from shapely import Point as PlanPoint

from preview.build import build
from preview.cutlist import CutPiece, cut_list
from preview.exports.dxf_page import plain
from preview.exports.plan_dxf import dxf_files
from preview.joinery import Piece
from preview.runs import IN_PLAN
from preview.scene import parse_scene
from preview.units import Unit
from scene_builds import board, hostile, nothing, scene_build

SCENES = sorted(path.stem for path in (Path(__file__).parents[2] / "scenes").glob("*.toml"))
FLAT = 1e-6
Floats = NDArray[np.float64]

COPED = """
title = "A coped corner"
units = "mm"
[profile.board]
foot = 20
face = [{ fillet = 60 }, { bevel = 20, in = 12 }, { fillet = 10 }]
[member.base]
profile = "board"
[[run]]
name = "north"
room = "left"
start = [0, 0]
begin = "self-return"
end = "return"
steps = [{ straight = 1000 }, { left = 90, joint = "cope" }, { straight = 500 }, { right = 60 }, { straight = 400 }]
"""


KINDS = """
title = "By hand"
units = "mm"
[profile.board]
library = "ogee-casing"
[block.post]
width = 60
thickness = 30
height = 50
[block.plinth]
width = 80
thickness = 30
height = 90
[member.board]
profile = "board"
out = 3
[[run]]
name = "run"
room = "ROOM"
"""
RUNS = {
    "copes both ways": 'steps = [{ straight = 500 }, { inside = 80, joint = "cope" }, { straight = 400 }, '
    '{ inside = 100, joint = "cope", coped = "before" }, { straight = 300 }]',
    "self-returns": 'begin = "self-return"\nend = "self-return"\nsteps = [{ straight = 500 }]',
    "returns": 'begin = "return"\nend = "return"\nsteps = [{ straight = 500 }, { inside = 120 }, { straight = 400 }]',
    "curve to curve": "steps = [{ curve_left = 60, radius = 300 }, { right = 20 }, "
    "{ curve_right = 250, radius = 400 }]",
    "raked round a corner": "steps = [{ straight = 500 }, { outside = 90 }, { straight = 600, rise = 300 }, "
    "{ outside = 90 }, { straight = 300 }]",
    "up and over": "steps = [{ straight = 500 }, { easement = 300 }, { straight = 800, rise = 400 }, "
    "{ easement = 300 }, { straight = 500, rise = -300 }]",
    "square to the slope": 'raked = "same"\nsteps = [{ straight = 500 }, { straight = 600, rise = 300 }, '
    "{ straight = 300 }]",
    "scarfs on a slope": "stock = 700\nsteps = [{ straight = 500 }, { inside = 90 }, { straight = 2000, rise = 700 }]",
    "a whole circle": "closed = true\nsteps = [{ curve_left = 200, radius = 300 }, { curve_left = 160, radius = 300 }]",
    "blocks": 'steps = [{ straight = 300 }, { outside = 90, block = "post" }, { straight = 200 }, '
    '{ block = "plinth" }, { straight = 250 }, { inside = 90, block = "post" }, { straight = 100 }]',
}


@cache
def drawings(name: str) -> dict[str, bytes]:
    return dict(dxf_files(scene_build(name), name))


@cache
def read(data: bytes) -> Drawing:
    document, auditor = recover.read(io.BytesIO(data))
    assert not auditor.errors
    assert not auditor.fixes
    return document


@cache
def cuts(name: str) -> dict[str, CutPiece]:
    return {piece.name: piece for piece in cut_list(scene_build(name)).pieces}


def mm_of(document: Drawing) -> float:
    return {1: 25.4, 4: 1.0, 5: 10.0, 6: 1000.0}[document.header["$INSUNITS"]]


def owner(entity: DXFGraphic) -> str:
    return str(entity.get_xdata("MOLDING_PIECE")[0].value) if entity.has_xdata("MOLDING_PIECE") else ""


def of_piece(document: Drawing, piece: str, *layers: str) -> list[DXFGraphic]:
    return [e for e in document.modelspace() if owner(e) == piece and (not layers or e.dxf.layer in layers)]


def length(entity: DXFGraphic) -> float:
    """In drawing units, in closed form."""
    if entity.dxftype() == "CIRCLE":
        return float(2 * math.pi * entity.dxf.radius)
    if entity.dxftype() == "ARC":
        return float(entity.dxf.radius * math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360))
    assert entity.dxftype() == "LINE"
    return float((entity.dxf.end - entity.dxf.start).magnitude)


def points_of(entities: list[DXFGraphic], scale: float) -> Floats:
    """Points all along entities, mm."""
    drawn = [entity for entity in entities if entity.dxftype() != "TEXT"]
    rows = [p for entity in drawn for p in dxf_path.make_path(entity).flattening(1e-4 / scale)]
    return scale * np.array([(p.x, p.y) for p in rows])


def in_wall_plan(piece: Piece) -> bool:
    return piece.stand == IN_PLAN and piece.role != "block"


# -- a reader of its own: a code on one line, its value on the next


def pairs(data: bytes) -> list[tuple[int, str]]:
    lines = data.decode("cp1252").split("\n")
    return [(int(code), value.rstrip("\r")) for code, value in zip(lines[::2], lines[1::2], strict=False)]


def header(data: bytes) -> dict[str, str]:
    found = pairs(data)
    return {value: found[i + 1][1] for i, (code, value) in enumerate(found) if code == 9}


def entities(data: bytes, kind: str) -> Iterator[dict[int, str]]:
    """The entities of a kind, each as its codes (the last value of each)."""
    inside = False
    now: dict[int, str] = {}
    for code, value in pairs(data):
        if code == 0:
            if inside and now.get(0) == kind:
                yield now
            now = {}
            inside = inside and value != "ENDSEC"
        if code == 2 and value == "ENTITIES":
            inside = True
        now[code] = value


# -- the file


@pytest.mark.parametrize(
    ("unit", "code", "mm"), [("in", 1, 25.4), ("ft", 1, 25.4), ("mm", 4, 1.0), ("cm", 5, 10.0), ("m", 6, 1e3)]
)
def test_coordinates_are_in_the_scene_s_unit(unit: Unit, code: int, mm: float) -> None:
    """A board 1000 mm long from (0, 0), 20 mm thick, with an inside corner at its end; no other library reads it."""
    built = board()
    built = replace(built, scene=replace(built.scene, units=unit))
    files = dict(dxf_files(built, "board"))
    assert list(files) == ["board-plan.dxf", "board-elevation-north.dxf"]
    for data in files.values():
        head = header(data)
        assert int(head["$INSUNITS"]) == code
        assert int(head["$MEASUREMENT"]) == int(code != 1)  # 0 English, 1 metric
        assert units.decode(code) == {1: "in", 4: "mm", 5: "cm", 6: "m"}[code]
    lines = [e for e in entities(files["board-plan.dxf"], "LINE") if e.get(1000) == built.pieces[0].name]
    found = {e[8]: [mm * float(e[c]) for c in (10, 20, 11, 21)] for e in lines}
    assert found["MOLDING BACK"] == pytest.approx([0, 0, 1000, 0], abs=1e-9)
    assert found["MOLDING FACE"] == pytest.approx([0, 20, 980, 20], abs=1e-9)
    assert found["MOLDING ENDS"] == pytest.approx([0, 0, 0, 20], abs=1e-9)
    assert found["JOINTS"] == pytest.approx([1000, 0, 980, 20], abs=1e-9)
    (wall,) = [e for e in entities(files["board-plan.dxf"], "LWPOLYLINE") if e[8] == "WALL LINE"]
    assert [mm * float(wall[10]), mm * float(wall[20])] == pytest.approx([1000, 500])
    assert int(wall[90]) == 3


def test_an_elevation_stands_at_its_own_height() -> None:
    """The same board, from 100 to 190 mm up: its pieces stop 20 mm from the fold on the face, and are never longer."""
    document = read(dict(dxf_files(board(), "board"))["board-elevation-north.dxf"])
    first, second = board().pieces
    lines = [(*e.dxf.start, *e.dxf.end) for e in of_piece(document, first.name, "MOLDING OUTLINE")]
    assert np.array(lines) == pytest.approx(np.array([(0, 100, 0, 980, 100, 0), (0, 190, 0, 980, 190, 0)]))
    lines = [(*e.dxf.start, *e.dxf.end) for e in of_piece(document, second.name, "MOLDING OUTLINE")]
    assert np.array(lines) == pytest.approx(np.array([(1020, 100, 0, 1500, 100, 0), (1020, 190, 0, 1500, 190, 0)]))
    (fold,) = document.modelspace().query('LINE[layer=="FOLD LINES"]')
    assert fold.dxf.start.x == fold.dxf.end.x == pytest.approx(1000)
    (floor,) = document.modelspace().query('LINE[layer=="FLOOR LINE"]')
    assert floor.dxf.start.y == floor.dxf.end.y == 0.0


@pytest.mark.parametrize("name", SCENES)
def test_every_scene_writes_the_same_bytes_twice(name: str) -> None:
    built = scene_build(name)
    files = drawings(name)
    assert files == dict(dxf_files(built, name))
    assert next(iter(files)) == f"{name}-plan.dxf"
    assert len(files) == 1 + len(built.scene.runs)
    for data in files.values():
        document = read(data)
        assert f"999\nmodel {built.digest}\n".encode() in data[:400]
        assert document.dxfversion == "AC1015"
        assert not document.modelspace().query('*[layer=="0"]')
        assert all(e.dxf.color == 256 for e in document.modelspace()), "colors are the layers' own"
        used = {e.dxf.layer for e in document.modelspace()}
        assert used == {layer.dxf.name for layer in document.layers} - {"0", "Defpoints", "VIEWPORTS"}
        words = [e.dxf.text for e in document.modelspace().query('TEXT[layer=="NOTES"]')]
        assert words[0].startswith(plain(built.scene.title))
        assert document.layers.get("PIECE NAMES").dxf.lineweight == 18


# -- the plan


@pytest.mark.parametrize("name", SCENES)
def test_backs_and_faces_are_as_long_as_the_cut_list_says(name: str) -> None:
    """Of what climbs, the plan shows the level length: that on the slope by the pitch's cosine. Easements are level."""
    document = read(drawings(name)[f"{name}-plan.dxf"])
    scale = mm_of(document)
    held = 0
    for piece in filter(in_wall_plan, scene_build(name).pieces):
        if piece.element.bend:
            continue
        cut = cuts(name)[piece.name]
        for layer, long in (("MOLDING BACK", cut.back), ("MOLDING FACE", cut.face)):
            found = [scale * length(e) for e in of_piece(document, piece.name, layer)]
            if not found:
                assert long < FLAT  # a return comes to a point at the wall
                continue
            assert found == [pytest.approx(long * math.cos(piece.pitch), abs=FLAT)], piece.name
            held += 1
    assert held or name == "door-casing"


@pytest.mark.parametrize("name", SCENES)
def test_a_piece_fills_the_box_of_its_mesh(name: str) -> None:
    built = scene_build(name)
    document = read(drawings(name)[f"{name}-plan.dxf"])
    scale = mm_of(document)
    joints = document.modelspace().query('*[layer=="JOINTS"]')
    assert len(joints) or name == "door-casing"
    for piece, mesh in zip(built.pieces, built.meshes, strict=True):
        points = points_of(of_piece(document, piece.name), scale)
        low, high = mesh.points[:, :2].min(axis=0), mesh.points[:, :2].max(axis=0)
        near = built.scene.chord + 0.001 if piece.element.sweep or piece.is_faced else 1e-4
        # A joint is drawn once, with the piece before it; backs and faces reach as far as it does.
        assert points.min(axis=0) == pytest.approx(low, abs=near), piece.name
        assert points.max(axis=0) == pytest.approx(high, abs=near), piece.name


@pytest.mark.parametrize("name", ["column", "window-seat", "bar-front"])
def test_arcs_are_exact(name: str) -> None:
    """The face of a curve runs on its back's radius and the projection, about one center, and as far round."""
    document = read(drawings(name)[f"{name}-plan.dxf"])
    scale = mm_of(document)
    curves = [piece for piece in scene_build(name).pieces if piece.kind == "curve"]
    for piece in curves:
        (back,) = of_piece(document, piece.name, "MOLDING BACK")
        (face,) = of_piece(document, piece.name, "MOLDING FACE")
        cut = cuts(name)[piece.name]
        out = cut.out_face - cut.out_back
        wraps = piece.hand * piece.element.sweep < 0
        assert scale * (face.dxf.radius - back.dxf.radius) == pytest.approx(out if wraps else -out, abs=1e-8)
        assert face.dxf.center.isclose(back.dxf.center, abs_tol=1e-9)
        assert (scale * np.array(back.dxf.center)[:2]) == pytest.approx(np.array(piece.element.center), abs=1e-8)
        if piece.begin.kind == piece.end.kind == "tangent":
            for arc in (back, face):
                sweep = math.radians((arc.dxf.end_angle - arc.dxf.start_angle) % 360)
                assert sweep == pytest.approx(abs(piece.element.sweep), abs=1e-9)
    assert curves


def test_a_curved_miter_is_the_conic() -> None:
    """Every vertex stands as far from the straight's wall line as from the curve's; so do the chords, to 0.01 mm."""
    held = 0
    for name in ("bar-front", "bay"):
        document = read(drawings(name)[f"{name}-plan.dxf"])
        scale = mm_of(document)
        pieces = {piece.name: piece for piece in scene_build(name).pieces}
        for pair in scene_build(name).joints:
            if pair.joint.kind != "curved miter" or pair.before is None or pair.after is None:
                continue
            names = [scene_build(name).pieces[i].name for i in (pair.before, pair.after)]
            backs = [of_piece(document, each, "MOLDING BACK")[0] for each in names]
            ends = [e for each in names for e in of_piece(document, each, "JOINTS")]
            (miter,) = [e for e in ends if e.dxftype() == "LWPOLYLINE" and _starts_at(e, pair.joint.at, scale)]
            points = scale * np.array([(x, y) for x, y in miter.get_points("xy")])
            for at, near in ((points, 1e-8), ((points[1:] + points[:-1]) / 2, 0.01)):
                away = [_away(e, at / scale) * scale for e in backs]
                assert away[0] == pytest.approx(away[1], abs=near)
            cut = cuts(name)[pieces[names[0]].name]
            assert away[0].max() < cut.out_face + 0.01
            assert len(points) > 4
            held += 1
    assert held


def test_a_deep_parabola_is_followed_closely() -> None:
    """A board 20 mm thick meets one lining a curve of radius 60 mm at 70°: the miter bends by half a millimeter."""
    scene = COPED.split("begin =")[0] + "steps = [{ straight = 500 }, { left = 70 }, { curve_left = 90, radius = 60 }]"
    built = build(parse_scene(scene, Path("deep.toml")))
    document = read(dict(dxf_files(built, "deep"))["deep-plan.dxf"])
    backs = [of_piece(document, piece.name, "MOLDING BACK")[0] for piece in built.pieces]
    (miter,) = of_piece(document, built.pieces[0].name, "JOINTS")
    points = np.array(miter.get_points("xy"))  # type: ignore[attr-defined]
    assert points[0] == pytest.approx((500.0, 0.0))
    away = [_away(back, points) for back in backs]
    assert away[0] == pytest.approx(away[1], abs=1e-8)
    assert away[0][-1] == pytest.approx(20.0)
    middle = (points[1:] + points[:-1]) / 2
    ahead = np.array([_away(back, middle) for back in backs])
    assert float(np.abs(ahead[0] - ahead[1]).max()) < 0.01
    chord = LineString([points[0], points[-1]])
    assert max(chord.distance(PlanPoint(*at)) for at in points) > 0.5


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("steps", RUNS)
def test_runs_of_every_kind(steps: str, room: str) -> None:
    """In plan every piece fills its mesh's box and is as long as the cut list says; in elevation it is as high."""
    built = build(parse_scene(KINDS.replace("ROOM", room) + RUNS[steps], Path("kinds.toml")))
    files = dict(dxf_files(built, "kinds"))
    plan, elevation = (read(files[f"kinds-{name}.dxf"]) for name in ("plan", "elevation-run"))
    for piece, mesh, cut in zip(built.pieces, built.meshes, cut_list(built).pieces, strict=True):
        points = points_of(of_piece(plan, piece.name), 1.0)
        near = built.scene.chord + 0.001
        assert points.min(axis=0) == pytest.approx(mesh.points[:, :2].min(axis=0), abs=near), piece.name
        assert points.max(axis=0) == pytest.approx(mesh.points[:, :2].max(axis=0), abs=near), piece.name
        leans = piece.square or max(abs(each.up[i]) for each in (piece.begin, piece.end) for i in (0, 1)) > 0
        if piece.role == "block" or piece.element.bend or leans:
            continue
        for layer, long in (("MOLDING BACK", cut.back), ("MOLDING FACE", cut.face)):
            found = sum(length(e) for e in of_piece(plan, piece.name, layer))
            assert found == pytest.approx(long * math.cos(piece.pitch), abs=FLAT), (piece.name, layer)
        drawn = of_piece(elevation, piece.name)
        if drawn:
            # Where a sheared round ends in a corner its highest point is not drawn, but for a hair.
            points, near = points_of(drawn, 1.0), 0.25 if piece.shear else near
            assert points[:, 1].max() == pytest.approx(mesh.points[:, 2].max(), abs=near), piece.name
            assert points[:, 1].min() == pytest.approx(mesh.points[:, 2].min(), abs=near), piece.name


def _starts_at(entity: DXFGraphic, at: tuple[float, float], scale: float) -> bool:
    x, y = entity.get_points("xy")[0]  # type: ignore[attr-defined]
    return math.hypot(scale * x - at[0], scale * y - at[1]) < 1.0


def _away(back: DXFGraphic, points: Floats) -> Floats:
    """How far points (n, 2) are from a back line, going on straight or round."""
    if back.dxftype() == "ARC":
        found: Floats = np.abs(np.hypot(*(points - np.array(back.dxf.center)[:2]).T) - back.dxf.radius)
        return found
    start, end = (np.array(each)[:2] for each in (back.dxf.start, back.dxf.end))
    ux, uy = (end - start) / np.hypot(*(end - start))
    aside: Floats = np.abs((points - start) @ np.array([-uy, ux]))
    return aside


def test_copes_and_self_returns() -> None:
    """A coped piece stops at the other's face where that is furthest in, and is seen to follow the miter."""
    built = build(parse_scene(COPED, Path("coped.toml")))
    document = read(dict(dxf_files(built, "coped"))["coped-plan.dxf"])
    for piece, cut in zip(built.pieces, cut_list(built).pieces, strict=True):
        for layer, long in (("MOLDING BACK", cut.back), ("MOLDING FACE", cut.face)):
            found = [length(e) for e in of_piece(document, piece.name, layer)]
            assert sum(found) == pytest.approx(long, abs=FLAT), (piece.name, layer)
    (cope,) = [
        e for i in (0, 1) for e in of_piece(document, built.pieces[i].name, "JOINTS") if e.dxftype() == "LWPOLYLINE"
    ]
    points = np.array(cope.get_points("xy"))  # type: ignore[attr-defined]
    # The board is 20 mm thick at its foot and 8 mm at its top; its face leads from one to the other.
    aside = np.abs(points - (1000.0, 0.0))
    assert aside.max() == pytest.approx(20.0)
    assert any(np.allclose(point, (20.0, 20.0)) for point in aside)
    elevation = read(dict(dxf_files(built, "coped"))["coped-elevation-north.dxf"])
    # Seen from the room: the self-return starts 20 mm before the wall line's begin, and the coped piece hides as much
    # of the first piece's end as it stands out there, 20 mm at its foot and 8 mm at its top; that is dashed on to the
    # wall. At the outside corner of 60° both pieces reach 20 tan 30° past the fold, at 1500 mm.
    foot, top = of_piece(elevation, built.pieces[0].name, "MOLDING OUTLINE")
    assert [foot.dxf.start.x, foot.dxf.end.x] == pytest.approx([-20.0, 980.0])
    assert [top.dxf.start.x, top.dxf.end.x] == pytest.approx([-8.0, 992.0])
    (second, _), (third, _) = (of_piece(elevation, built.pieces[i].name, "MOLDING OUTLINE") for i in (1, 2))
    past = 20 * math.tan(math.radians(30))
    assert [second.dxf.start.x, second.dxf.end.x] == pytest.approx([1020.0, 1500.0 + past])
    assert third.dxf.start.x == pytest.approx(1500.0 - past)
    dashed = points_of(of_piece(elevation, built.pieces[0].name, "MOLDING HIDDEN"), 1.0)
    assert dashed[:, 0].max() == pytest.approx(1000.0)
    assert elevation.layers.get("MOLDING HIDDEN").dxf.linetype == "DASHED"


# -- the elevations


@pytest.mark.parametrize("name", SCENES)
def test_elevations_show_every_piece_at_its_length_and_height(name: str) -> None:
    built = scene_build(name)
    for run in (placed.run for placed in built.scene.runs):
        files = [read(data) for file, data in drawings(name).items() if "-elevation-" in file]
        mine = [piece for piece in built.pieces if piece.run == run.name]
        (document,) = [d for d in files if any(of_piece(d, piece.name) for piece in mine)]
        scale = mm_of(document)
        named = {e.dxf.text for e in document.modelspace().query('TEXT[layer=="PIECE NAMES"]')}
        assert named == {p.name for p in mine if p.role != "return" or run.stand != IN_PLAN}
        for piece, mesh in zip(built.pieces, built.meshes, strict=True):
            drawn = [e for e in of_piece(document, piece.name) if e.dxf.layer != "PIECE NAMES"]
            if not drawn or (piece.stand != IN_PLAN and piece.role == "block"):
                continue
            points = points_of(drawn, scale)
            assert points[:, 1].max() == pytest.approx(mesh.points[:, 2].max(), abs=0.02), piece.name
            if piece.role == "block" or piece.is_faced:
                continue
            low = mesh.points[:, 2].min()
            assert points[:, 1].min() == pytest.approx(low, abs=0.02)
            if run.stand != IN_PLAN:
                lines = sorted(scale * length(e) for e in of_piece(document, piece.name, "MOLDING OUTLINE"))
                cut = cuts(name)[piece.name]
                assert lines == pytest.approx(sorted([cut.back, cut.face]), abs=FLAT)


def test_molding_stops_at_blocks() -> None:
    """A post laps 60 mm along both walls of an outside corner at 300 mm, 30 mm out; a plinth takes 500 to 580."""
    built = build(parse_scene(KINDS.replace("ROOM", "right") + RUNS["blocks"], Path("blocks.toml")))
    document = read(dict(dxf_files(built, "blocks"))["blocks-elevation-run.dxf"])
    spans = {}
    for piece in built.pieces:
        drawn = of_piece(document, piece.name, "MOLDING OUTLINE", "BLOCKS")
        spans[piece.name.split(" / ", 1)[1]] = [np.round(points_of([each], 1.0)[:, 0], 6) for each in drawn]
    feet = [(float(x.min()), float(x.max())) for name, (x, *_) in spans.items() if name.startswith("board")]
    assert feet[:2] == [(0.0, 240.0), (360.0, 500.0)]
    assert feet[2][0] == 580.0
    post, other = spans["post / 2 corner block"]
    assert (post.min(), post.max()) == (240.0, 330.0)
    assert (other.min(), other.max()) == (270.0, 360.0)
    (plinth,) = next(each for name, each in spans.items() if name.startswith("plinth"))
    assert (plinth.min(), plinth.max()) == (500.0, 580.0)


def test_an_easement_climbs_by_its_own_arc() -> None:
    """Each line of a plumb section is the wall line's own arc moved up or down, so all have one radius."""
    built = scene_build("stair-wall")
    document = read(drawings("stair-wall")["stair-wall-elevation-rail.dxf"])
    easements = [piece for piece in built.pieces if piece.kind == "easement"]
    assert easements
    for piece in easements:
        arcs = [e for e in of_piece(document, piece.name) if e.dxftype() == "ARC"]
        assert len(arcs) > 2
        for arc in arcs:
            assert arc.dxf.radius * mm_of(document) == pytest.approx(1.0 / abs(piece.element.bend), rel=1e-9)


# -- words


@pytest.mark.parametrize("name", SCENES)
def test_every_piece_is_named_once_and_no_name_lies_over_another(name: str) -> None:
    document = read(drawings(name)[f"{name}-plan.dxf"])
    texts = list(document.modelspace().query('TEXT[layer=="PIECE NAMES"]'))
    assert sorted(e.dxf.text for e in texts) == sorted(piece.name for piece in scene_build(name).pieces)
    areas = []
    for text in texts:
        high, at = text.dxf.height, text.dxf.align_point
        long = 0.6 * high * len(text.dxf.text)
        begin = {0: 0.0, 1: -long / 2, 2: -long}[text.dxf.halign]
        area = box(at.x + begin, at.y - high / 2, at.x + begin + long, at.y + high / 2)
        areas.append(affinity.rotate(area, text.dxf.rotation, origin=(at.x, at.y)))
        assert 4.0 - 1e-9 <= high * mm_of(document) <= 60.0 + 1e-9
    for i, area in enumerate(areas):
        assert not any(area.intersects(other) for other in areas[:i]), texts[i].dxf.text


def test_hostile_names_stay_words() -> None:
    built = hostile()
    files = dxf_files(built, "hostile")
    assert files == dxf_files(built, "hostile")
    for file, data in files:
        assert file.isascii()
        document = read(data)
        assert all(code >= 0 for code, _ in pairs(data))
        texts = [e.dxf.text for e in document.modelspace().query('TEXT[layer=="PIECE NAMES"]')]
        assert len(texts) == len(built.pieces)
        assert any("Βάση 木線 חלון" in text for text in texts)
        assert 'say "it\'s" / base / 1 straight' in texts
        assert not any("\n" in text or "%%" in text or len(text) > 240 for text in texts)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("50%%d steep", "50% %d steep"),
        ("a\\U+0041", "a/U+0041"),
        ("2^3", "2^ 3"),
        ("%%%%", "% % % %"),
        ("\ud800\x00x", "x"),
    ],
)
def test_codes_in_names_are_broken_up(name: str, shown: str) -> None:
    """%% codes, \\U+ codes and carets are what a DXF text is decoded by (DXF reference; from memory)."""
    assert plain(name) == shown


def test_run_names_become_files() -> None:
    built = board()
    placed = built.scene.runs[0]
    run = replace(placed.run, name='../"north" wall:\n1½')
    lines = tuple(replace(line, run=run) for line in built.lines)
    scene = replace(built.scene, runs=(replace(placed, run=run),))
    files = [name for name, _ in dxf_files(replace(built, lines=lines, scene=scene), "a-job")]
    assert files == ["a-job-plan.dxf", "a-job-elevation-north-wall-1-1-2.dxf"]


def test_a_job_without_pieces_has_a_plan() -> None:
    ((name, data),) = dxf_files(nothing(), "nothing")
    assert name == "nothing-plan.dxf"
    assert len(read(data).modelspace().query("LWPOLYLINE")) == 1  # the wall line


def test_what_stands_around_is_drawn() -> None:
    """Piers with rounded corners: their corners are bulges of quarter turns, tan(90°/4)."""
    document = read(drawings("window-seat")["window-seat-plan.dxf"])
    outlines = document.modelspace().query('LWPOLYLINE[layer=="SURROUNDINGS"]')
    bulges = {round(abs(b), 9) for e in outlines for (b,) in e.get_points("b")}
    assert bulges == {0.0, round(math.tan(math.pi / 8), 9)}
    assert all(e.closed for e in outlines)
    assert all(LineString([p[:2] for p in e.get_points("xy")]).length > 0 for e in outlines)
