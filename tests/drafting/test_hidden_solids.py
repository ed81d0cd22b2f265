"""Our lines against those of an independent hidden-line algorithm: Open CASCADE's HLRBRep_Algo, on the exact solids.

Both sets are sampled along their lines; every sample of one must lie on a line of the other. Open CASCADE is told which
edges are smooth (surfaces that run on, within the project's 2 degrees): it draws those apart, and we draw none.

What it may draw beyond ours, and why:

- It knows no flush joints. Where two solids share a whole face, it works each rim out against the other's coincident
  face, and now and then a stretch of a rim goes on past a silhouette, where both surfaces are turned away and the joint
  cannot be seen. Such a sample must lie on the ring of a joint, and their share is held small.
- Where a round passes smoothly into a hollow a silhouette runs out along that smooth edge at a grazing angle, so our
  facets end it early, by as much as the root of their chord. Such a sample must lie on a smooth edge; a few are
  allowed, and another test sees them grow fewer as the chord shrinks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from preview.build import Built, build
from preview.drafting.edges import ON_PAPER, seen_lines
from preview.drafting.hidden import Seen
from preview.drafting.views import FROM_BELOW, ISOMETRIC, PLAN, View, elevation, isometric
from preview.models.solid import make_solids
from preview.scene import load_scene

pytest.importorskip("cadquery")
Floats = NDArray[np.float64]

NEAR = 0.1
"""How far, mm, a sample may lie from the other's lines; the scenes are 2 to 4 m across, our chord is 0.01 mm."""
ON_SMOOTH = 0.01
"""How far, mm, from a smooth edge a silhouette that runs out along it may lie."""
APART = 2.0
"""How far apart, mm, samples are at most."""
SMOOTH = math.radians(2)
STRAY_SHARE = 2e-3
"""Which share of Open CASCADE's lines may be rims of joints that cannot be seen."""
RUN_OUT = 13
"""How many samples, 2 mm apart, silhouettes that run out along a smooth edge may be too short by."""
SCENES = Path(__file__).parent.parent.parent / "scenes"
FROM_ABOVE, FROM_UNDER = isometric(math.radians(55)), isometric(math.radians(125), -ISOMETRIC)
CASES: dict[str, tuple[str, View]] = {
    "window seat, plan": ("window-seat", PLAN),
    "window seat, front": ("window-seat", elevation(math.pi / 2)),
    "window seat, isometric": ("window-seat", isometric(math.radians(135))),
    "window seat, isometric from the other side": ("window-seat", FROM_ABOVE),
    "stair wall, plan": ("stair-wall", PLAN),
    "stair wall, front": ("stair-wall", elevation(math.pi / 2)),
    "stair wall, isometric": ("stair-wall", isometric(math.radians(135))),
    "cornice, ceiling": ("cornice", FROM_BELOW),
    "cornice, front": ("cornice", elevation(math.pi / 2)),
    "cornice, isometric from below": ("cornice", FROM_UNDER),
}


@cache
def job(scene: str) -> tuple[Built, tuple[Any, ...]]:
    """A shipped scene, built, and its exact solids as the kernel's shapes, told which edges are smooth."""
    built = build(load_scene(SCENES / f"{scene}.toml"))
    shapes = tuple(shape.wrapped for shape in make_solids(built.pieces).shapes)
    for shape in shapes:
        tell_smooth(shape)
    return built, shapes


def tell_smooth(shape: Any) -> None:
    """Mark every edge of a shape as smooth where the normals of its two faces differ by less than 2 degrees."""
    from OCP.BRep import BRep_Builder
    from OCP.BRepAdaptor import BRepAdaptor_Curve2d, BRepAdaptor_Surface
    from OCP.BRepLProp import BRepLProp_SLProps
    from OCP.GeomAbs import GeomAbs_C0, GeomAbs_G1
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED
    from OCP.TopExp import TopExp
    from OCP.TopoDS import TopoDS
    from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape

    known = TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapesAndAncestors_s(shape, TopAbs_EDGE, TopAbs_FACE, known)
    for i in range(1, known.Extent() + 1):
        edge = TopoDS.Edge_s(known.FindKey(i))
        faces = [TopoDS.Face_s(face) for face in known.FindFromIndex(i)]
        if len(faces) != 2 or faces[0].IsSame(faces[1]):
            continue
        turn = 0.0
        for u in (0.1, 0.5, 0.9):
            normals = []
            for face in faces:
                curve = BRepAdaptor_Curve2d(edge, face)
                at = curve.Value(curve.FirstParameter() * (1 - u) + curve.LastParameter() * u)
                normal = BRepLProp_SLProps(BRepAdaptor_Surface(face), at.X(), at.Y(), 1, 1e-9).Normal()
                sign = -1.0 if face.Orientation() == TopAbs_REVERSED else 1.0
                normals.append(sign * np.array([normal.X(), normal.Y(), normal.Z()]))
            turn = max(turn, math.acos(min(1.0, float(normals[0] @ normals[1]))))
        BRep_Builder().Continuity(edge, faces[0], faces[1], GeomAbs_G1 if turn < SMOOTH else GeomAbs_C0)


def kernel_lines(shapes: tuple[Any, ...], view: View) -> tuple[list[Floats], list[Floats]]:
    """What Open CASCADE sees of solids, as polylines (n, 2) within 0.002 mm: sharp edges and
    outlines; and all smooth edges, seen or not."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepLib import BRepLib
    from OCP.GCPnts import GCPnts_QuasiUniformDeflection
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.HLRAlgo import HLRAlgo_Projector
    from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    algorithm = HLRBRep_Algo()
    for shape in shapes:
        algorithm.Add(shape)
    # The projector's main direction points to whoever looks, its x to the right in the picture.
    toward = gp_Dir(*(-way for way in view.ahead))
    algorithm.Projector(HLRAlgo_Projector(gp_Ax2(gp_Pnt(0, 0, 0), toward, gp_Dir(*view.right))))
    algorithm.Update()
    algorithm.Hide()
    drawn = HLRBRep_HLRToShape(algorithm)
    found: tuple[list[Floats], list[Floats]] = ([], [])
    for compound, kept in (
        (drawn.VCompound(), found[0]),
        (drawn.OutLineVCompound(), found[0]),
        (drawn.Rg1LineVCompound(), found[1]),
        (drawn.Rg1LineHCompound(), found[1]),
    ):
        if compound is None or compound.IsNull():
            continue
        BRepLib.BuildCurves3d_s(compound)
        edges = TopExp_Explorer(compound, TopAbs_EDGE)
        while edges.More():
            steps = GCPnts_QuasiUniformDeflection(BRepAdaptor_Curve(TopoDS.Edge_s(edges.Current())), 0.002)
            if steps.IsDone():
                points = [steps.Value(i) for i in range(1, steps.NbPoints() + 1)]
                kept.append(np.array([(p.X(), p.Y()) for p in points]))
            edges.Next()
    return found


def samples(lines: list[Floats]) -> Floats:
    """Points (n, 2) along polylines, 1 mm apart at most, none at their ends."""
    found = [np.empty((0, 2))]
    for points in lines:
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        if along[-1] < 1e-6:
            continue
        count = 1 + int(along[-1] / APART)
        at = (np.arange(count) + 0.5) / count * along[-1]
        found.append(np.column_stack([np.interp(at, along, points[:, i]) for i in (0, 1)]))
    return np.concatenate(found)


def far(points: Floats, lines: list[Floats], near: float = NEAR) -> Floats:
    """Those of some points that lie further than `near` from all lines."""
    if not len(points):
        return points
    tree = shapely.STRtree(shapely.linestrings(np.concatenate([np.stack([row[:-1], row[1:]], 1) for row in lines])))
    at = shapely.points(points)
    close = tree.query_nearest(at, max_distance=near, all_matches=False)[0]
    return points[np.setdiff1d(np.arange(len(points)), close)]


def joint_rings(built: Built, view: View) -> list[Floats]:
    """The whole rings of the joints between two pieces, hidden or not, in the picture."""
    found = []
    for pair in built.joints:
        if pair.before is None or pair.after is None or pair.joint.faced is not None:
            continue
        piece = built.pieces[pair.before]
        edges = [edge.point(np.linspace(0, 1, 200)) for edge in piece.profile.edges]
        section = np.concatenate(edges)
        ring = pair.joint.ring(section[:, 0], section[:, 1])
        axes = np.array([piece.stand.x, piece.stand.y, piece.stand.z])
        found.append(view.project(ring @ axes + np.array(piece.stand.origin))[:, :2])
    return found


@dataclass(frozen=True)
class Differences:
    """Samples of ours that are not theirs; of theirs that are not ours: on joints, on smooth edges, and elsewhere."""

    ours: int
    theirs: int
    on_joints: int
    on_smooth: int


def differences(ours: list[Seen], theirs: tuple[list[Floats], list[Floats]], rings: list[Floats]) -> Differences:
    extra = far(samples([line.points for line in ours if not line.smooth]), theirs[0])
    missing = far(samples(theirs[0]), [line.points for line in ours])
    off_joints = far(missing, rings)
    elsewhere = far(off_joints, theirs[1], ON_SMOOTH)
    return Differences(len(extra), len(elsewhere), len(missing) - len(off_joints), len(off_joints) - len(elsewhere))


@cache
def theirs_of(case: str) -> tuple[list[Floats], list[Floats]]:
    """What Open CASCADE sees in a case."""
    scene, view = CASES[case]
    return kernel_lines(job(scene)[1], view)


def compared(case: str, chord: float = 0.01) -> tuple[Differences, int]:
    """The differences in a case, and how many samples Open CASCADE's lines have."""
    scene, view = CASES[case]
    built, _ = job(scene)
    theirs = theirs_of(case)
    ours = seen_lines(built, view, around=False, scale=ON_PAPER / chord)
    return differences(ours, theirs, joint_rings(built, view)), len(samples(theirs[0]))


@pytest.mark.parametrize("case", CASES)
def test_we_see_the_lines_that_open_cascade_sees(case: str) -> None:
    found, count = compared(case)
    assert count > 2500  # it has drawn something to compare with
    assert (found.ours, found.theirs) == (0, 0)
    assert found.on_joints < STRAY_SHARE * count
    assert found.on_smooth <= (RUN_OUT if case == "stair wall, isometric" else 0)


def test_silhouettes_that_run_out_end_nearer_the_finer_the_chord() -> None:
    coarse, fine = (compared("stair wall, isometric", chord)[0].on_smooth for chord in (0.05, 0.005))
    assert fine < coarse / 2


def test_the_comparison_notices_what_is_missing_and_what_is_too_much() -> None:
    scene, view = CASES["stair wall, plan"]
    built, _ = job(scene)
    theirs, rings = theirs_of("stair wall, plan"), joint_rings(built, view)
    ours = seen_lines(built, view, around=False, scale=1.0)
    longest = max(range(len(ours)), key=lambda i: len(samples([ours[i].points])))
    assert differences(ours[:longest] + ours[longest + 1 :], theirs, rings).theirs > 50
    moved = [
        Seen(line.points + np.array([0.3, 0.3]), line.kind, line.piece, line.outline, line.smooth) for line in ours
    ]
    found = differences(moved, theirs, rings)
    assert found.ours > 100
    assert found.theirs > 100
