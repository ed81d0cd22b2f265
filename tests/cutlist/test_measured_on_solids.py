"""The lengths of the list measured again, with the CAD kernel, on the solids read back from a STEP file.

A line is shot through each solid along its wall, close to the back and to the face, and where it enters and leaves the
wood is what the list has to say. Nothing of how the ends were computed enters.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.build import Built
from preview.cutlist import CutList, CutPiece
from preview.joinery import Piece
from preview.models.solid import available, make_solids
from preview.profiles import measure, projection_at
from preview.runs import IN_PLAN
from shipped_lists import NAMES, shipped

WITHIN = 0.01
"""mm."""
INSET = 1e-4
"""How far inside the wood, mm, a line is shot."""
Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Built, CutList, list[Any]]]:
    missing = available()
    if missing:
        pytest.skip(missing)
    import cadquery

    found = {}
    for name in NAMES:
        built, cuts = shipped(name)
        path: Path = tmp_path_factory.mktemp("step") / f"{name}.step"
        make_solids(built.pieces).write_step(path, name, [(0.5, 0.5, 0.5)] * len(built.pieces))
        solids = cadquery.importers.importStep(str(path)).solids().vals()
        assert len(solids) == len(cuts.pieces)
        found[name] = (built, cuts, solids)
    return found


def everything(read: dict[str, tuple[Built, CutList, list[Any]]]) -> Iterator[tuple[Piece, CutPiece, Any]]:
    for built, cuts, solids in read.values():
        yield from zip(built.pieces, cuts.pieces, solids, strict=True)


def in_scene(piece: Piece, vectors: Floats, *, point: bool) -> Floats:
    stand = piece.stand
    axes = np.array([stand.x, stand.y, stand.z])
    moved: Floats = vectors @ axes + (np.array(stand.origin) if point else 0.0)
    return moved


def axis(piece: Piece) -> Floats:
    """The direction of a straight in the scene: of its wall, up its slope."""
    e = piece.element
    along = np.array([*e.tangent, e.slope])
    return in_scene(piece, along / np.linalg.norm(along), point=False)


def line_at(piece: Piece, d: float, h: float) -> Floats:
    """A point in the scene that lies on the piece's line at (d, h)."""
    (x, y), (nx, ny) = piece.element.start, piece.normal
    return in_scene(piece, np.array([x + d * nx, y + d * ny, piece.element.height + piece.shear * d + h]), point=True)


def through(solid: Any, at: Floats, along: Floats) -> tuple[float, float]:
    """Where a line enters and leaves a solid, measured along it from `at`; nan where it misses."""
    from OCP.gp import gp_Dir, gp_Lin, gp_Pnt
    from OCP.IntCurvesFace import IntCurvesFace_ShapeIntersector

    shot = IntCurvesFace_ShapeIntersector()
    shot.Load(solid.wrapped, 1e-9)
    shot.Perform(gp_Lin(gp_Pnt(*at.tolist()), gp_Dir(*along.tolist())), -1e6, 1e6)
    marks = [shot.WParameter(i) for i in range(1, shot.NbPnt() + 1)]
    return (min(marks), max(marks)) if len(marks) > 1 else (math.nan, math.nan)


def on_plane(piece: Piece, at: float) -> Floats:
    """Points (n, 2) just inside the wood, near the plane d = at, from its foot to its top."""
    size = measure(piece.profile)
    inside = at + INSET if at == size.d_min else at - INSET
    heights = np.linspace(size.h_min + INSET, size.h_max - INSET, 200)
    kept = [h for h in heights if projection_at(piece.profile, h)[0] < inside < projection_at(piece.profile, h)[1]]
    for edge in piece.profile.edges:  # and just inside the ends of what touches the plane
        for end in (edge.start, edge.end):
            for h in (end[1] - INSET, end[1] + INSET):
                if abs(end[0] - at) < 1e-6 and size.h_min < h < size.h_max:
                    low, high = projection_at(piece.profile, h)
                    kept += [h] if low < inside < high else []
    return np.array([(inside, h) for h in kept])


def shots(piece: Piece, solid: Any, points: Floats) -> Floats:
    along = axis(piece)
    found = np.array([through(solid, line_at(piece, d, h), along) for d, h in points.tolist()])
    return found[~np.isnan(found).any(axis=1)]


def extent(solid: Any, along: Floats) -> float:
    """How long a solid is in a direction, mm, over all its edges."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt, gp_Trsf

    turn = gp_Trsf()
    turn.SetTransformation(gp_Ax3(gp_Pnt(0, 0, 0), gp_Dir(*along.tolist())))
    moved = BRepBuilderAPI_Transform(solid.wrapped, turn, True).Shape()
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(moved, box, False, False)
    return float(box.CornerMax().Z() - box.CornerMin().Z())


def sticks(read: dict[str, tuple[Built, CutList, list[Any]]]) -> list[tuple[Piece, CutPiece, Any]]:
    return [each for each in everything(read) if each[1].kind in ("straight", "return")]


def test_back_and_face_of_every_straight_and_return(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    checked = 0
    for piece, cut, solid in sticks(read):
        size = measure(piece.profile)
        for at, told in ((size.d_min, cut.back), (size.d_max, cut.face)):
            if told < 0.1:  # the back of a return comes to an edge
                assert cut.kind == "return"
                continue
            points = on_plane(piece, at)
            points = points if piece.is_faced else points[[0, len(points) // 2, -1]] if len(points) else points
            if not len(points):  # the face is the crest of a round: a line 0.1 micron inside it
                continue
            found = shots(piece, solid, points)
            measured = np.ptp(found) if piece.is_faced else (found[:, 1] - found[:, 0]).max()
            assert measured == pytest.approx(told, abs=WITHIN), (cut.name, at)
            checked += 1
    assert checked > 110


def test_overall_of_every_straight_and_return(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    for piece, cut, solid in sticks(read):
        assert extent(solid, axis(piece)) == pytest.approx(cut.overall, abs=WITHIN), cut.name


def test_long_short_and_inner_of_every_sawn_straight(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    """Over lines all round the section, a hair inside it."""
    for piece, cut, solid in sticks(read):
        if piece.is_faced or cut.kind == "return":
            continue
        middle = np.array(measure(piece.profile).centroid)
        outline = np.concatenate([edge.point(np.array([0.0, 0.5])) for edge in piece.profile.edges])
        found = shots(piece, solid, outline + (middle - outline) * 1e-5)
        long = found[:, 1] - found[:, 0]
        assert long.max() == pytest.approx(cut.long, abs=WITHIN), cut.name
        assert long.min() == pytest.approx(cut.short, abs=WITHIN), cut.name
        if not cut.pitch:
            assert found[:, 1].min() - found[:, 0].max() == pytest.approx(cut.inner, abs=WITHIN), cut.name


def test_radii_arcs_and_box_of_every_curve(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    checked = 0
    for piece, cut, solid in everything(read):
        if cut.bend is None:
            continue
        center = np.array(piece.element.center)
        arcs = {}
        for edge in solid.Edges():
            if is_level_arc(edge):
                assert math.dist(center, (edge.arcCenter().x, edge.arcCenter().y)) < WITHIN
                arcs[edge.radius()] = edge.Length()
        back, face = cut.bend.radius_back, cut.bend.radius_face
        found = [min(arcs, key=lambda r: abs(r - want)) for want in (back, face)]
        assert found[0] == pytest.approx(back, abs=WITHIN), cut.name
        assert arcs[found[0]] == pytest.approx(cut.bend.arc_back, abs=WITHIN), cut.name
        if abs(found[1] - face) < WITHIN:
            assert arcs[found[1]] == pytest.approx(cut.bend.arc_face, abs=WITHIN), cut.name
        else:  # the face is the crest of a round, which no edge runs along: how near it comes to the axis
            assert not cut.bend.wraps
            assert nearest(solid, center) == pytest.approx(face, abs=WITHIN), cut.name
            assert cut.bend.arc_face == pytest.approx(face * cut.bend.sweep, abs=WITHIN)
        turns = np.array([(v.X - center[0], v.Y - center[1]) for v in solid.Vertices()])
        out = (turns / np.linalg.norm(turns, axis=1)[:, None]).sum(axis=0)
        if np.linalg.norm(out) < 1e-6:  # half a turn: square to its two ends
            out = np.array([-turns[0][1], turns[0][0]])
        out /= np.linalg.norm(out)
        along = np.array([-out[1], out[0], 0.0])
        assert extent(solid, along) == pytest.approx(cut.bend.chord, abs=WITHIN), cut.name
        assert extent(solid, np.array([*out, 0.0])) == pytest.approx(cut.bend.depth, abs=WITHIN), cut.name
        checked += 1
    assert checked == 11


def is_level_arc(edge: Any) -> bool:
    return edge.geomType() == "CIRCLE" and all(abs(edge.positionAt(t).z - edge.startPoint().z) < 1e-6 for t in (0.5, 1))


def nearest(solid: Any, center: Floats) -> float:
    """How near a solid comes to the upright line through a plan point, mm."""
    import cadquery

    upright = cadquery.Edge.makeLine(cadquery.Vector(*center, -1e4), cadquery.Vector(*center, 1e4))
    return float(solid.distance(upright))


def test_sweep_of_curves_with_square_ends(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    for _, cut, solid in everything(read):
        if cut.bend is not None and not cut.begin.by_template:
            arc = max(edge.Length() / edge.radius() for edge in solid.Edges() if is_level_arc(edge))
            assert arc == pytest.approx(cut.bend.sweep, abs=1e-6)


def test_easements(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    checked = 0
    for piece, cut, solid in everything(read):
        if cut.easing is None:
            continue
        e = piece.element
        rise = e.rise(e.length)
        long = math.hypot(e.length, rise)
        up = np.array([-rise * e.tangent[0], -rise * e.tangent[1], e.length]) / long
        along = np.array([e.length * e.tangent[0], e.length * e.tangent[1], rise]) / long
        assert extent(solid, along) == pytest.approx(cut.easing.chord, abs=WITHIN)
        assert extent(solid, up) == pytest.approx(cut.easing.depth, abs=WITHIN)
        rounds = [edge for edge in solid.Edges() if edge.geomType() == "CIRCLE" and edge.radius() > 100]
        assert rounds
        for edge in rounds:
            assert edge.radius() == pytest.approx(cut.easing.radius, abs=WITHIN)
            assert edge.Length() == pytest.approx(cut.back, abs=WITHIN)
        checked += 1
    assert checked == 2


def test_blocks(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    checked = 0
    for _, cut, solid in everything(read):
        if cut.block is not None:
            box = solid.BoundingBox()
            size = cut.block
            assert sorted((box.xlen, box.ylen, box.zlen)) == pytest.approx(
                sorted((size.wide, size.out, size.high)), abs=WITHIN
            )
            assert box.zlen == pytest.approx(size.high, abs=WITHIN)
            checked += 1
    assert checked == 3


def test_stock_holds_the_section_of_every_level_straight(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    """The solid's extent across the piece, along the stock's width and square to it."""
    for piece, cut, solid in sticks(read):
        if cut.pitch or cut.kind == "return" or piece.is_faced or piece.stand != IN_PLAN:
            continue
        out = np.array([*piece.normal, 0.0])
        up = np.array([0.0, 0.0, 1.0])
        wide = math.sin(cut.stock.tilt) * out + math.cos(cut.stock.tilt) * up
        thick = math.cos(cut.stock.tilt) * out - math.sin(cut.stock.tilt) * up
        sides = sorted((extent(solid, wide), extent(solid, thick)))
        assert sides == pytest.approx([cut.stock.thickness, cut.stock.width], abs=WITHIN), cut.name


def test_areas_swept_add_up_to_the_solid_s(read: dict[str, tuple[Built, CutList, list[Any]]]) -> None:
    """All that the whole outline sweeps, and the two saw cuts, are the surface of the solid. (Of a round that climbs
    the kernel has a spline, good to about 2e-6 here.)"""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    from preview.cutlist.seen import swept

    for piece, cut, solid in everything(read):
        if cut.kind == "block" or piece.is_faced or cut.begin.by_template or cut.end.by_template:
            continue
        found = GProp_GProps()
        BRepGProp.SurfaceProperties_s(solid.wrapped, found, 1e-9)
        area = measure(piece.profile).area
        caps = [area * float(np.linalg.norm(np.cross(*joint.axes()))) for joint in (piece.begin, piece.end)]
        sides = math.fsum(swept(piece, edge) for edge in piece.profile.edges)
        assert sides + sum(caps) == pytest.approx(float(found.Mass()), rel=1e-5), cut.name
