"""What the templates hold: the lines, against closed forms, against other ways to find them, and read back from DXF.

Sources: a miter between a straight and a curve is a parabola, between two curves a hyperbola or an ellipse (general
geometry: the loci of points equally far from a line and a circle, and from two circles). The parabola's check points
are derived from that definition, y² = (k + R)² - 2 (k + R) x. A chord and its rise: the circular segment of handbooks,
from memory. Everything read from a file is read by ezdxf.
"""

from __future__ import annotations

import io
import math
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from ezdxf import path as dxf_path
from ezdxf import recover
from ezdxf.document import Drawing
from numpy.typing import NDArray
from shapely import LinearRing, LineString, Point, Polygon, affinity

from preview.bench.templates import Template, TemplateSet, template_set, templates
from preview.bench.templates.curves import plan_of, rods_of, side_of
from preview.bench.templates.dxf import template_dxf
from preview.bench.templates.gather import _alike
from preview.bench.templates.joints import faced_line, miter_in_plan, miter_laid_flat
from preview.bench.templates.template import polyline
from preview.build import build
from preview.joinery import MemberRun, join
from preview.profiles import Arc, Line, Profile, flatten, lying, measure
from preview.runs import Corner, Curve, Run, Stand, Straight, Way, lay_out
from preview.scene import load_scene
from samples import BASE, CROWN, block, curve, meeting, quarter_round

SCENES = Path(__file__).parents[2] / "scenes"
Floats = NDArray[np.float64]


def made(name: str) -> TemplateSet:
    return template_set(build(load_scene(SCENES / f"{name}.toml")))


@pytest.fixture(scope="module")
def bar() -> TemplateSet:
    return made("bar-front")


@pytest.fixture(scope="module")
def stair() -> TemplateSet:
    return made("stair-wall")


def read(data: bytes) -> Drawing:
    document, auditor = recover.read(io.BytesIO(data))
    assert not auditor.errors
    assert not auditor.fixes
    return document


def on_layer(document: Drawing, layer: str) -> list[Floats]:
    """Everything drawn on a layer, as points in mm, flattened to 0.001 mm where it is bent."""
    scale = {1: 25.4, 4: 1.0}[document.header["$INSUNITS"]]
    found = []
    for entity in document.modelspace().query(f'*[layer=="{layer}"]'):
        points = dxf_path.make_path(entity).flattening(0.001 / scale)
        found.append(scale * np.array([(p.x, p.y) for p in points]))
    return found


def points_of(template: Template, role: str) -> Floats:
    """Points all along a template's lines of one use, mm."""
    edges = [edge for line in template.lines if line.role == role for edge in line.edges]
    return np.concatenate([edge.point(np.linspace(0.0, 1.0, 65 if isinstance(edge, Arc) else 2)) for edge in edges])


def curved_miter(run: Run, profile: Profile) -> tuple[Template, MemberRun]:
    line = join(run, "base", profile)
    (joint,) = (joint for joint in line.joints if joint.kind == "curved miter")
    return miter_in_plan(joint, *line.pieces), line


def faces_on(template: Template, role: str = "back") -> list[Line | Arc]:
    return [line.edges[0] for line in template.lines if line.role == role]


# The curved miter


PARABOLA = [(0.0, 95.394), (10.0, 108.167), (20.0, 119.583), (30.0, 130.0)]
"""A straight on x = 30 and a circle of radius 100 about (0, 0): how far out, and the y of the meeting point."""


def parabola_run() -> Run:
    """Down a wall on x = 30 to the circle and round it to the left, with the room on the outside of both."""
    high = math.sqrt(100.0**2 - 30.0**2)
    turn = math.atan2(30.0, -high) + math.pi / 2  # from straight down to along the circle, + to the left
    steps = [Straight(200.0), Corner(turn - 2 * math.pi if turn > 0 else turn), Curve(math.radians(80), 100.0)]
    return lay_out("wall", steps, start=(30.0, high + 200.0), heading=-math.pi / 2, room="right")


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_straight_meets_a_circle_on_a_parabola(unit: str) -> None:
    """In the file, the points worked by hand lie on the line within 0.02 mm, and the file says how near it is."""
    template, _ = curved_miter(parabola_run(), block(30.0, 40.0))
    document = read(template_dxf(template, "in" if unit == "in" else "mm"))
    assert document.header["$INSUNITS"] == {"in": 1, "mm": 4}[unit]
    (cut,) = on_layer(document, "Cut line")
    line = LineString(cut)
    for out, y in PARABOLA:
        # The straight lies level and the room is above: what was out from it is up, what was along it across.
        assert line.distance(Point(y - PARABOLA[0][1], out)) < 0.02
    # Its focus is the circle's center, its directrix the straight moved by R: as far from the one as from the other.
    focus = (-math.sqrt(100.0**2 - 30.0**2), 30.0)
    assert np.abs(np.hypot(*(cut - focus).T) - (cut[:, 1] + 100.0)).max() < 0.02
    words = " ".join(entity.dxf.text for entity in document.modelspace().query("TEXT"))
    assert "part of a parabola" in words
    assert "polylines within 0.0" in words
    assert ("Full size, in inches" if unit == "in" else "Full size, in millimeters") in words


TWO_CURVES = [(True, "hyperbola"), (False, "ellipse")]


@pytest.mark.parametrize(("same", "named"), TWO_CURVES)
def test_two_circles_meet_on_a_hyperbola_or_an_ellipse(same: bool, named: str) -> None:
    """Between the centers' distances: a constant difference for two that bend one way, else a constant sum.

    Checked as well against the offset circles that another library draws and intersects.
    """
    first, second = (Curve(-math.radians(70), 140.0), Curve(-math.radians(70) * (1 if same else -1), 90.0))
    template, _ = curved_miter(meeting(first, math.radians(50), second), block(25.0, 40.0))
    (cut,) = on_layer(read(template_dxf(template, "mm")), "Cut line")
    assert named in " ".join(template.words)
    one, two = (np.array(edge.center) for edge in faces_on(template) if isinstance(edge, Arc))
    p, q = np.hypot(*(cut - one).T), np.hypot(*(cut - two).T)
    constant = p - q if same else p + q
    assert np.abs(constant - constant[0]).max() < 0.02
    assert constant[0] == pytest.approx(140.0 - 90.0 if same else 140.0 + 90.0, abs=1e-6)
    line = LineString(cut)
    for d in (0.0, 6.0, 12.5, 25.0):
        rings = [
            Point(center).buffer(radius, quad_segs=20_000).boundary
            for center, radius in ((one, 140.0 + d), (two, 90.0 + (d if same else -d)))
        ]
        meets = rings[0].intersection(rings[1])
        assert min(line.distance(point) for point in meets.geoms) < 0.02


def test_the_curve_is_on_both_pieces_and_on_the_plan_of_the_arc() -> None:
    """The joint's template and the curved piece's own have one line, turned and shifted: chord and bow agree."""
    template, line = curved_miter(meeting(Straight(300.0), 0.9, Curve(-math.radians(90), 50.0)), block(30.0, 40.0))
    plan = plan_of(line.pieces[1], "mm")
    joint, own = points_of(template, "cut"), plan.lines[2].edges
    assert math.dist(joint[0], joint[-1]) == pytest.approx(math.dist(own[0].start, own[-1].end), abs=1e-9)
    shape = np.array([own[0].start, *(edge.end for edge in own)])

    def bow(points: Floats) -> float:
        chord = points[-1] - points[0]
        away = points - points[0]
        return float(np.abs(chord[0] * away[:, 1] - chord[1] * away[:, 0]).max() / np.hypot(*chord))

    assert bow(joint) == pytest.approx(bow(shape), abs=0.01)
    assert bow(joint) > 0.3
    assert f"leaves the guide by {bow(joint):.1f}" in template.words[1]


def test_the_straight_laid_flat_shows_the_line_on_its_face() -> None:
    """Each height's face projection, from the flattened profile, stands where the offset line and circle meet."""
    line = join(meeting(Straight(300.0), 0.9, Curve(-math.radians(90), 120.0)), "base", BASE)
    template = miter_laid_flat(line.pieces[0], True, "mm")
    found = points_of(template, "cut")
    joint = line.pieces[0].end
    tangent = np.array(joint.before.tangent)
    section = Polygon(flatten(BASE, 0.001).points)
    low = measure(BASE).h_min
    for x, y in found[:: max(1, len(found) // 60)]:
        level = section.intersection(LineString([(-10.0, y + low), (100.0, y + low)]))
        d = np.linspace(0.0, measure(BASE).d_max, 4001)
        ahead = (joint.points(d) - np.array(joint.at)) @ tangent
        # Room on the left: as one faces the wall, the travel leads to the left.
        out = float(np.interp(-x, ahead[np.argsort(ahead)], d[np.argsort(ahead)]))
        if level.is_empty or abs(level.bounds[2] - out) > 0.05:
            # Only on a ledge, where the line runs level between two projections.
            assert any(abs(edge.start[1] - y - low) < 1e-6 and abs(edge.end[1] - y - low) < 1e-6 for edge in BASE.edges)


# Curved pieces and rods


def test_a_curved_corner_in_inches() -> None:
    """Back radius 2 in, face 1 1/4 in further out, a quarter turn, square ends; two of them, drawn once."""
    found = made("window-seat")
    rod, plan = found.entries
    assert plan.template.pieces == ("seat / base / 2 curve", "seat / base / 10 curve")
    assert rod.template.pieces == ("seat (step 2)", "seat (step 16)")
    document = read(dict(found.files)[plan.files[1]])
    assert document.header["$INSUNITS"] == 1
    arcs = {entity.dxf.layer: entity for entity in document.modelspace().query("ARC")}
    assert arcs["Back line"].dxf.radius == pytest.approx(2.0, abs=1e-9)
    assert arcs["Face line"].dxf.radius == pytest.approx(3.25, abs=1e-9)
    for arc in arcs.values():
        assert (arc.dxf.end_angle - arc.dxf.start_angle) % 360 == pytest.approx(90.0, abs=1e-6)
        assert tuple(arc.dxf.center)[:2] == pytest.approx((0.0, 0.0), abs=1e-9)
    for cut in document.modelspace().query('LINE[layer=="Cut line"]'):
        # Square to the curve: along a radius.
        (x0, y0, _), (x1, y1, _) = cut.dxf.start, cut.dxf.end
        assert abs(x0 * y1 - x1 * y0) < 1e-9
        assert math.hypot(x1, y1) - math.hypot(x0, y0) == pytest.approx(1.25, abs=1e-9)
    assert len(document.modelspace().query('LINE[layer=="Center mark"]')) == 2
    assert "Every curve is the exact arc." in " ".join(e.dxf.text for e in document.modelspace().query("TEXT"))


def test_four_corners_alike_are_one_template() -> None:
    rod, plan = templates(build(load_scene(SCENES / "column.toml")))
    assert [rod.kind, plan.kind] == ["curve rod", "curve"]
    assert [rod.sign, plan.sign] == ["T1", "T2"]
    assert plan.pieces == tuple(f"column / plinth / {i} curve" for i in (2, 4, 6, 8))
    assert len(rod.pieces) == 4
    back, face = (line.edges[0] for line in plan.lines[:2])
    assert isinstance(back, Arc)
    assert isinstance(face, Arc)
    assert back.radius == pytest.approx(40.0, abs=1e-9)


@pytest.mark.parametrize("lining", [True, False])
@pytest.mark.parametrize("room", ["left", "right"])
def test_the_face_of_a_curve_is_on_the_rooms_side(lining: bool, room: str) -> None:
    """Seen from above: a curve that lines has its face toward the center, one that wraps away from it."""
    (piece,) = join(curve((1 if lining else -1) * 1.2, 100.0, room), "base", block(20.0, 40.0)).pieces
    plan = plan_of(piece, "mm")
    face = plan.lines[1].edges[0]
    assert isinstance(face, Arc)
    assert face.radius == pytest.approx(80.0 if lining else 120.0)
    assert ("below, toward" if lining else "above, away") in plan.words[0]
    assert face.via[0] == pytest.approx(0.0, abs=1e-9)  # the middle of the piece is upright on the sheet
    assert face.via[1] > 0


def test_an_arched_casing_is_seen_from_the_room() -> None:
    """It lies on the wall: its near edge follows the opening and its far edge stands out by its width, 3 in."""
    run = replace(
        lay_out("arch", [Curve(-math.pi / 2, 400.0)], room="left"),
        stand=Stand((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0)),
    )
    (piece,) = join(run, "casing", lying(block(20.0, 76.2))).pieces
    plan = plan_of(piece, "in")
    assert [line.role for line in plan.lines[:2]] == ["edge", "edge"]
    assert [line.edges[0].radius for line in plan.lines[:2] if isinstance(line.edges[0], Arc)] == [400.0, 476.2]
    assert "from the room" in plan.words[0]
    assert 'width 3" (76.2 mm)' in plan.words[1]


def test_a_member_off_the_wall_shows_the_wall_as_well() -> None:
    (piece,) = join(curve(1.2, 100.0), "shoe", quarter_round(12.0).moved(22.0, 0.0)).pieces
    by_role = {line.role: line.edges[0] for line in plan_of(piece, "mm").lines}
    radii = {role: edge.radius for role, edge in by_role.items() if isinstance(edge, Arc)}
    assert radii == pytest.approx({"back": 78.0, "face": 66.0, "wall": 100.0})


def test_a_rod_has_the_rises_of_its_chord() -> None:
    """15 in radius, a quarter turn: chord 2 R sin(45°), rise R (1 - cos 45°), and at the quarter points the rise of
    the circle there, sqrt(R² - (c/4)²) less the chord's own distance from the center."""
    (rod,) = rods_of(lay_out("wall", [Curve(math.pi / 2, 381.0)]), "in")
    document = read(template_dxf(rod, "in"))
    chord, *rises = sorted(
        (e for e in document.modelspace().query('LINE[layer=="Guide line"]')), key=lambda e: -_long(e)
    )
    assert _long(chord) == pytest.approx(2 * 15 * math.sin(math.pi / 4), abs=1e-6)
    quarter = math.sqrt(15**2 - (_long(chord) / 4) ** 2) - 15 * math.cos(math.pi / 4)
    assert [_long(rise) for rise in rises] == pytest.approx(
        [15 * (1 - math.cos(math.pi / 4)), quarter, quarter], abs=1e-6
    )
    assert "4 13/32" in rod.words[2]  # 4.393
    assert "3 7/16" in rod.words[2]  # 3.425


def _long(line: ezdxf.entities.DXFEntity) -> float:
    return float((line.dxf.end - line.dxf.start).magnitude)


def test_a_rod_of_more_than_half_a_circle_is_one_half() -> None:
    (rod,) = rods_of(lay_out("wall", [Curve(-math.radians(240), 100.0)], ends_may_cross=True), "mm")
    arc = rod.lines[0].edges[0]
    assert isinstance(arc, Arc)
    assert arc.sweep == pytest.approx(math.radians(120))
    assert "half of the arc" in rod.words[0]


def test_an_easement_is_one_arc_twice(stair: TemplateSet) -> None:
    """Radius 18 in, from level to 33.69 degrees: the top is the foot's arc moved up, and the ends are plumb."""
    up = next(entry for entry in stair.entries if entry.template.kind == "easement")
    document = read(dict(stair.files)[up.files[1]])
    foot, top = sorted(document.modelspace().query("ARC"), key=lambda arc: arc.dxf.center.y)
    assert [foot.dxf.radius, top.dxf.radius] == pytest.approx([18.0, 18.0], abs=1e-6)
    assert top.dxf.center.x == pytest.approx(foot.dxf.center.x, abs=1e-9)
    turned = math.degrees(math.atan2(7.0, 10.5))
    assert (foot.dxf.end_angle - foot.dxf.start_angle) % 360 == pytest.approx(turned, abs=1e-6)
    for cut in document.modelspace().query('LINE[layer=="Cut line"]'):
        assert cut.dxf.start.x == pytest.approx(cut.dxf.end.x, abs=1e-9)


def test_the_foot_of_an_easement_follows_the_rise() -> None:
    """Every point of the foot stands where the run's own line does, from the room: left for what is travelled left."""
    pieces = [p for p in build(load_scene(SCENES / "stair-wall.toml")).pieces if p.kind == "easement"]
    assert len(pieces) == 2
    for piece in pieces:
        foot = side_of(piece, "in").lines[0].edges[0]
        for x, y in foot.point(np.linspace(0.0, 1.0, 9)):
            assert y == pytest.approx(piece.element.rise(float(-piece.hand * x)), abs=1e-9)


# Copes and self-returns


def coped(turn: float, profile: Profile, which: str, room: str = "left") -> Template:
    hand = 1 if room == "left" else -1
    way = Way("cope", coped=which)
    run = lay_out("room", [Straight(400.0), Corner(hand * turn, way), Straight(400.0)], room=room)
    line = join(run, "base", profile)
    at_end = which == "before"
    piece = line.pieces[0 if at_end else 1]
    joint = piece.end if at_end else piece.begin
    assert joint.faced is not None
    return faced_line(piece, at_end, joint.faced, True, "mm")


@pytest.mark.parametrize("degrees", [90.0, 83.0, 135.0])
@pytest.mark.parametrize(("which", "room"), [("after", "left"), ("before", "left"), ("after", "right")])
def test_a_cope_follows_the_other_face(degrees: float, which: str, room: str) -> None:
    """Plane geometry: a point of the coped piece s along its wall and d out from it is s sin(t) + d cos(t) out from
    the other wall, and stops where that is the other's face."""
    turn = math.pi - math.radians(degrees)
    template = coped(turn, BASE, which, room)
    cuts = [line for line in template.lines if line.role == "cut"]
    guides = [line.edges[0].start[0] for line in template.lines if line.role == "guide"]
    assert len(cuts) == 2
    outline = LinearRing(flatten(BASE, 0.0005).points)
    # As one faces the wall, the left end: its wood is on the right of the line with the face up, on the left else.
    left_end = (which == "before") == (room == "left")
    for cut, corner, face_up in ((cuts[0], guides[0], False), (cuts[1], guides[1], True)):
        way = 1.0 if left_end == face_up else -1.0
        points = np.concatenate([edge.point(np.linspace(0.0, 1.0, 9)) for edge in cut.edges])
        s = way * (points[:, 0] - corner)
        # On the back d = 0; on the face d = f, and s sin(t) = f (1 - cos(t)).
        f = s * math.sin(turn) / (1.0 - math.cos(turn)) if face_up else s * math.sin(turn)
        within = 0.02 * max(1.0, float(np.abs(f / np.where(s == 0.0, 1.0, s)).max()))
        assert max(outline.distance(Point(*at)) for at in zip(f, points[:, 1], strict=True)) < within
        size = measure(BASE)
        assert (points[:, 1].min(), points[:, 1].max()) == pytest.approx((size.h_min, size.h_max))
        for at in range(0, len(points), 37):  # and it is the outermost wood: nothing stands further out there
            level = Polygon(outline).intersection(LineString([(-50.0, points[at, 1]), (200.0, points[at, 1])]))
            assert f[at] == pytest.approx(level.bounds[2], abs=0.5) or on_a_ledge(points[at, 1])


def on_a_ledge(height: float) -> bool:
    """Whether the base has a level edge at a height."""
    return any(abs(e.start[1] - height) < 1e-6 and abs(e.end[1] - height) < 1e-6 for e in BASE.edges)


def test_a_square_cope_is_the_profile_itself_in_the_file() -> None:
    """At 90 degrees the line is the face's own outline: its arcs stay arcs, in one polyline with bulges."""
    document = read(template_dxf(coped(math.pi / 2, BASE, "after"), "mm"))
    back, face = document.modelspace().query('LWPOLYLINE[layer=="Cut line"]')
    arcs = sorted(edge.radius for edge in BASE.edges if isinstance(edge, Arc))
    for line in (back, face):
        bulges = [bulge for *_, bulge in line.get_points("xyb") if bulge]
        assert len(bulges) >= len(arcs) - 1
    assert "Every curve is the exact arc." in " ".join(e.dxf.text for e in document.modelspace().query("TEXT"))


def test_left_and_right_copes_mirror_each_other() -> None:
    one, other = coped(math.pi / 2, BASE, "after", "left"), coped(math.pi / 2, BASE, "after", "right")
    assert "right end" in one.words[0] or "left end" in one.words[0]
    assert one.words[0] != other.words[0]
    first, second = ([line for line in t.lines if line.role == "cut"][1] for t in (one, other))
    for a, b in zip(first.edges, second.edges, strict=True):
        assert (a.start[0], a.start[1]) == pytest.approx((-b.start[0], b.start[1]), abs=1e-9)


def test_a_sprung_cope_is_drawn_as_it_lies_on_its_back() -> None:
    """Its visible line is that of the miter, d tan(t/2) on along the wall, seen square to the slanted back."""
    turn = math.radians(87)
    template = coped(turn, CROWN, "after")
    (cut,) = (line for line in template.lines if line.role == "cut")
    back = max((e for e in CROWN.edges if isinstance(e, Line) and e.end[0] < e.start[0] - 1), key=lambda e: e.length)
    along = (np.array(back.start) - np.array(back.end)) / back.length
    outline = flatten(CROWN, 0.0005).points
    foot = float((outline @ along).min())
    seen = affinity.translate(
        LineString([*(outline @ np.array([[1.0, along[0]], [0.0, along[1]]])), outline[0]]), 0.0, -foot
    )
    sign = 1.0 if cut.edges[0].start[0] > 0 else -1.0
    guide = next(line for line in template.lines if line.role == "guide").edges[0]
    for edge in cut.edges[:: max(1, len(cut.edges) // 40)]:
        d = sign * (edge.start[0] - guide.start[0]) / math.tan(turn / 2)
        assert seen.distance(Point(d, edge.start[1])) < 0.02 or d == pytest.approx(0.0, abs=1e-6)
    assert "tilted" in " ".join(template.words)


def test_a_self_return_is_the_profile_worked_on_the_end() -> None:
    found = templates(build(load_scene(SCENES / "hall.toml")))
    assert [each.kind for each in found] == ["cope", "self-return"]
    assert made("hall").files == made("hall").files  # the same job gives the same bytes
    template = found[1]
    back, face = (line for line in template.lines if line.role == "cut")
    assert len(back.edges) == len(face.edges)
    assert np.ptp([edge.start[0] for edge in face.edges]) > 1.0


# The set


def test_raked_profiles_are_gathered(stair: TemplateSet) -> None:
    """The same sections as the models' own files have, at full size, at a scale of 25.4 in an inch file."""
    raked = [entry for entry in stair.entries if entry.template.kind == "raked profile"]
    assert [entry.template.pieces for entry in raked] == [
        ("rail / rail / 4 straight",),
        ("cornice / cornice / 2 straight",),
    ]
    for entry in raked:
        (outline,) = on_layer(read(dict(stair.files)[entry.files[1]]), "Profile outline")
        edges = entry.template.lines[0].edges
        size = [max(e.bounds[i] for e in edges) - min(e.bounds[i - 2] for e in edges) for i in (2, 3)]
        assert np.ptp(outline, axis=0) == pytest.approx(size, abs=0.005)


def test_a_line_is_never_further_off_than_it_says(bar: TemplateSet) -> None:
    assert all(0.0 <= entry.template.strays <= 0.02 for entry in bar.entries)
    edges, strays = polyline(lambda t: np.column_stack([100 * np.cos(t), 100 * np.sin(t)]), 0.0, 2.0)
    assert strays <= 0.01
    sagitta = 100.0 * (1 - math.cos(2.0 / len(edges) / 2))  # of a chord, exactly
    assert strays == pytest.approx(sagitta, rel=1e-3)


def test_each_kind_that_a_bar_front_needs(bar: TemplateSet) -> None:
    assert [entry.template.kind for entry in bar.entries] == [
        "curve rod",
        "curve rod",
        "curve",
        "curve",
        "curved miter",
        "curved miter",
        "curved miter laid flat",
        "curved miter laid flat",
    ]
    names = [name for name, _ in bar.files]
    assert len(set(names)) == len(names) == 1 + 2 * len(bar.entries)
    assert names[0] == "templates/all-templates.pdf"
    assert set(names[1:]) == {name for entry in bar.entries for name in entry.files}


def test_templates_that_differ_by_a_hair_stay_two() -> None:
    line = [join(curve(1.2, radius), "base", block(20.0, 40.0)).pieces[0] for radius in (100.0, 100.0, 100.00001)]
    one, same, other = (plan_of(piece, "mm") for piece in line)
    assert _alike(one, same)
    assert not _alike(one, other)


@pytest.mark.parametrize("name", ["bay", "cornice"])
def test_a_job_of_plane_cuts_has_no_templates(name: str) -> None:
    found = made(name)
    assert found.entries == ()
    assert [file for file, _ in found.files] == ["templates/all-templates.pdf"]
