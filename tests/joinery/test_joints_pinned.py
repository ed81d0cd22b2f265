"""Every way a straight can begin with every way it can end, either hand, far from the origin and very small.

The plan is worked out here with complex numbers and nothing of the project: the wall runs along u from P, the room lies
along i u on the left and -i u on the right, and a point d out and h up stops where a drawing board puts it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from preview.joinery import (
    BlockShape,
    MemberRun,
    Piece,
    exact_volume,
    exact_volumes,
    integrated_volume,
    join,
    piece_lengths,
    ring_of,
)
from preview.models.mesh import mesh_runs
from preview.profiles import Line, make_profile
from preview.runs import Block, Corner, Curve, Side, Step, Straight, Way, lay_out, scarfed, through_points
from samples import block

Floats = NDArray[np.float64]
LEVEL = 3.5
OUT, HIGH = 1.2, 2.4
SMALL = make_profile(
    "small",
    [
        Line((0.0, 0.0), (OUT, 0.0)),
        Line((OUT, 0.0), (0.2, HIGH)),
        Line((0.2, HIGH), (0.0, HIGH)),
        Line((0.0, HIGH), (0.0, 0.0)),
    ],
)
"""A board of 2.4 mm that stands 1.2 mm out at its foot and 0.2 at its top: f(h) = 1.2 - h (1.2 - 0.2)/2.4."""
CORNERS = np.array([edge.start for edge in SMALL.edges])
AREA = HIGH * (OUT + 0.2) / 2
Ends = tuple[str, float]


def face(h: Floats | float) -> Floats:
    return OUT - np.asarray(h) * (OUT - 0.2) / HIGH


def beyond(way: str, angle: float, d: Floats, h: Floats) -> Floats:
    """How far past the measured end of its wall, mm, a point of a piece stands that ends there; `angle` of the corner,
    degrees, + toward the room. A piece that begins so is its mirror image."""
    angle = math.radians(angle)
    if way == "return":
        return d
    if way == "self-return":
        return face(h)
    if way == "beveled":
        return -d
    if way == "miter":  # on the line that halves the angle between the walls
        return -d * math.tan(angle / 2)
    if way == "coped":  # where the other's face stands
        return -(face(h) - d * math.cos(angle)) / math.sin(angle)
    if way == "past a cope":  # on the other wall itself
        return d * math.cos(angle) / math.sin(angle)
    if way == "corner block":  # 5 mm wide in an inside corner, 4 mm over each wall at an outside one
        return np.full_like(d, -5.0 if angle > 0 else -4.0)
    return np.zeros_like(d)


CORNERED = ("miter", "coped", "past a cope", "corner block")
BLOCKS = {"stone": BlockShape("stone", block(3.0, 9.0), 5.0, 4.0, 3.0)}
WAYS: list[Ends] = [
    ("square", 0.0),
    ("butt", 0.0),
    ("beveled", 0.0),
    ("return", 0.0),
    ("self-return", 0.0),
    ("plinth block", 0.0),
    ("miter", 90.0),
    ("miter", 37.0),
    ("miter", -90.0),
    ("miter", -71.0),
    ("coped", 90.0),
    ("coped", 64.0),
    ("coped", 117.0),
    ("past a cope", 90.0),
    ("past a cope", 64.0),
    ("past a cope", 117.0),
    ("corner block", 90.0),
    ("corner block", -90.0),
]


def neighbor(way: str, angle: float, hand: int, *, before: bool) -> list[Step]:
    """The steps beside the middle straight, in the order away from it."""
    if way == "plinth block":
        return [Block("stone", 6.0)]
    if way not in CORNERED:
        return []
    made = Way()
    if way == "corner block":
        made = Way("block", block="stone")
    elif "cope" in way or way == "coped":
        # The cut piece is the middle one, or the other.
        mine: str = "after" if before else "before"
        theirs: str = "before" if before else "after"
        made = Way("cope", coped=mine if way == "coped" else theirs)  # type: ignore[arg-type]
    return [Corner(hand * math.radians(angle), made), Straight(11.0)]


def middle(begin: Ends, end: Ends, room: Side, long: float, start: complex, heading: float) -> tuple[MemberRun, Piece]:
    """A member run, and of it the straight of `long` mm that begins at `start`, along `heading`."""
    hand = 1 if room == "left" else -1
    before, after = neighbor(*begin, hand, before=True), neighbor(*end, hand, before=False)
    first, at = heading, start
    for step in before:
        if isinstance(step, Corner):
            first -= step.turn
        else:
            at -= (step.length if isinstance(step, Straight) else step.width) * np.exp(1j * first)
    run = lay_out(
        "hall",
        [*before[::-1], Straight(long), *after],
        room=room,
        start=(at.real, at.imag),
        heading=first,
        level=LEVEL,
    )
    ways = [way if way in ("butt", "beveled", "return", "self-return") else "square" for way, _ in (begin, end)]
    line = join(replace(run, begin=ways[0], end=ways[1]), "rail", SMALL, blocks=BLOCKS)
    index = sum(isinstance(step, Straight | Block) for step in before) + 1
    return line, next(piece for piece in line.pieces if piece.index == index and piece.role == "molding")


def trapezoid(of: Callable[[Floats, Floats], Floats]) -> float:
    """The integral of what is linear in d and in h over the section, by its two triangles' middles."""
    triangles = CORNERS[[[0, 1, 2], [0, 2, 3]]]
    sides = triangles[:, 1:] - triangles[:, :1]
    areas = (sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]) / 2
    centers = triangles.mean(axis=1)
    return float(areas @ of(centers[:, 0], centers[:, 1]))


def rotated(number: int) -> Ends:
    return WAYS[number % len(WAYS)]


PAIRS = {
    room: [(WAYS[i], rotated(i + shift)) for shift in shifts for i in range(len(WAYS))]
    for room, shifts in (("left", (0, 5, 11)), ("right", (1, 5, 8)))
}


@pytest.mark.parametrize("room", ["left", "right"])
def test_every_end_with_every_other(room: Side) -> None:
    hand = 1 if room == "left" else -1
    meshed: list[tuple[MemberRun, Piece, float, Floats]] = []
    for number, (begin, end) in enumerate(PAIRS[room]):
        long = 16.0 + number / 64
        start, heading = complex(733.25 - 9 * number, -1210.5), math.radians(17.0 * number)
        line, piece = middle(begin, end, room, long, start, heading)
        told = f"{begin} to {end}"
        u = np.exp(1j * heading)
        d, h = CORNERS.T
        first = -beyond(*begin, d, h)
        last = long + beyond(*end, d, h)
        rings = []
        for at_end, s in ((False, first), (True, last)):
            plan = start + u * s + 1j * hand * u * d
            want = np.column_stack([plan.real, plan.imag, h + LEVEL])
            assert ring_of(piece, at_end, d, h + LEVEL) == pytest.approx(want, abs=1e-9), told
            rings.append(want)
        starts, stops = piece.stations(d, h + LEVEL)
        off = 4.0 if begin[1] < 0 else 5.0
        back = off if begin[0] == "corner block" else 0.0
        assert starts == pytest.approx(first - back, abs=1e-9), told
        assert stops == pytest.approx(last - back, abs=1e-9), told
        volume = AREA * long + trapezoid(lambda d, h: beyond(*begin, d, h) + beyond(*end, d, h))  # noqa: B023
        assert exact_volume(piece) == pytest.approx(volume, rel=1e-10), told
        told_lengths = piece_lengths(piece)
        lengths = last - first
        assert told_lengths["longest"] == pytest.approx(lengths.max(), abs=1e-9), told
        assert told_lengths["shortest"] == pytest.approx(lengths.min(), abs=1e-9), told
        assert told_lengths["overall"] == pytest.approx(last.max() - first.min(), abs=1e-9), told
        meshed.append((line, piece, volume, np.concatenate(rings)))
    known = {id(piece): (volume, ring) for _, piece, volume, ring in meshed}
    for mesh in mesh_runs([line for line, *_ in meshed]):
        if id(mesh.piece) in known:
            volume, ring = known.pop(id(mesh.piece))
            assert mesh.volume == pytest.approx(volume, rel=1e-10), mesh.piece.name
            assert mesh.points.min(axis=0) == pytest.approx(ring.min(axis=0), abs=1e-9)
            assert mesh.points.max(axis=0) == pytest.approx(ring.max(axis=0), abs=1e-9)
    assert not known


# Rooms that close, and chimneys that are wrapped.


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("first", range(4))
def test_molding_round_a_closed_wall_fills_the_offset_of_its_plan(room: Side, first: int) -> None:
    """Pieces in plan, as polygons, beside the offset that another library makes of the wall's own polygon.

    The wall is walked from any of its corners; long walls are scarfed.
    """
    walls = [complex(-40.0, 7.0), complex(13.0, -5.0), complex(31.0, 24.0), complex(-22.0, 33.0)]
    walls = walls[first:] + walls[:first]
    plan = shapely.Polygon([(at.real, at.imag) for at in walls])
    wide, high = 1.5, 2.0
    out = plan.buffer(-wide if room == "left" else wide, join_style="mitre", mitre_limit=50.0)
    run = through_points("hall", [(at.real, at.imag) for at in walls], room=room, closed=True)
    run = scarfed(run, 40.0, -0.75, 3.0, 0.0, [(0.0, wide)])
    assert [way.kind for way in run.ways].count("scarf") == 2
    line = join(run, "rail", block(wide, high))
    pieces = []
    for piece in line.pieces:
        d, h = np.array([0.0, wide]), np.zeros(2)
        near, far = (ring_of(piece, at_end, d, h)[:, :2] for at_end in (False, True))
        outline = shapely.Polygon([*near, *far[::-1]])
        assert outline.is_valid
        assert exact_volume(piece) == pytest.approx(outline.area * high, rel=1e-10)
        assert integrated_volume(piece) == pytest.approx(outline.area * high, rel=1e-10)
        pieces.append(outline)
    for i, outline in enumerate(pieces):
        assert all(outline.intersection(other).area < 1e-9 for other in pieces[i + 1 :])
    between = out.symmetric_difference(plan)
    assert shapely.unary_union(pieces).symmetric_difference(between).area < 1e-9
    assert float(exact_volumes(line.pieces).sum()) == pytest.approx(between.area * high, rel=1e-10)
    assert sum(mesh.volume for mesh in mesh_runs([line])) == pytest.approx(between.area * high, rel=1e-10)


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("side", [1, -1])
def test_a_curve_between_two_straights_anywhere(room: Side, side: int) -> None:
    """A curve that follows smoothly is an annular sector: its ends by the circle about its center, its volume by
    Pappus; at the far corner the straight and the circle d out meet where the two of them are drawn."""
    hand = 1 if room == "left" else -1
    radius, sweep, heading, start = 4.0, math.radians(70.0), math.radians(205.0), complex(-310.0, 95.0)
    turn = side * math.radians(50.0)
    steps: list[Step] = [Straight(9.0), Curve(side * sweep, radius), Corner(turn), Straight(11.0)]
    run = lay_out("bow", steps, room=room, start=(start.real, start.imag), heading=heading, level=LEVEL)
    line = join(run, "rail", SMALL)
    u = np.exp(1j * heading)
    begins = start + 9.0 * u
    center = begins + 1j * side * radius * u
    d, h = CORNERS.T
    inner = radius - side * hand * d  # the radius on which a point d out runs
    from_center = -1j * side * u
    want = center + inner * from_center
    ring = ring_of(line.pieces[1], False, d, h + LEVEL)
    assert ring[:, 0] + 1j * ring[:, 1] == pytest.approx(want, abs=1e-9)
    assert ring[:, 2] == pytest.approx(h + LEVEL)
    # The last wall leaves the curve's end; along it the point lies d out and on its own circle.
    ends = center + radius * from_center * np.exp(1j * side * sweep)
    v = u * np.exp(1j * (side * sweep + turn))
    to = ends + 1j * hand * v * d - center
    ahead = (to * np.conj(v)).real
    roots = np.sqrt(ahead**2 - np.abs(to) ** 2 + inner**2)
    s = np.where(np.abs(-ahead + roots) < np.abs(-ahead - roots), -ahead + roots, -ahead - roots)
    ring = ring_of(line.pieces[2], False, d, h + LEVEL)
    assert ring[:, 0] + 1j * ring[:, 1] == pytest.approx(ends + 1j * hand * v * d + s * v, abs=1e-9)
    assert np.array_equal(ring, ring_of(line.pieces[1], True, d, h + LEVEL))
    assert line.joints[2].kind == "curved miter"
    # Cut square at its far end instead, Pappus has its volume.
    line = join(lay_out("bow", steps[:2], room=room, start=run.elements[0].start, heading=heading), "rail", SMALL)
    first = trapezoid(lambda d, _h: d) / AREA
    volume = AREA * sweep * (radius - side * hand * first)
    assert exact_volume(line.pieces[1]) == pytest.approx(volume, rel=1e-12)
    assert integrated_volume(line.pieces[1]) == pytest.approx(volume, rel=1e-10)
    lengths = piece_lengths(line.pieces[1])
    assert lengths["longest"] == pytest.approx(sweep * inner.max(), rel=1e-12)
    assert lengths["shortest"] == pytest.approx(sweep * inner.min(), rel=1e-12)
    assert lengths["overall"] == pytest.approx(sweep * inner.max(), rel=1e-12)


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("first", range(4))
def test_a_closed_room_with_a_joint_of_each_kind(room: Side, first: int) -> None:
    """Walked from any of its corners, a wall is cut alike: by the joint at each of its ends."""
    hand = 1 if room == "left" else -1
    walls = [40.0, 25.0, 40.0, 25.0]
    made = [Way("cope", coped="after"), Way("block", block="stone"), Way(), Way("cope", coped="before")]
    ends = [("past a cope", "coped"), ("corner block",) * 2, ("miter",) * 2, ("coped", "past a cope")]
    steps: list[Step] = []
    for i in [(first + k) % 4 for k in range(4)]:
        steps += [Straight(walls[i]), Corner(hand * math.pi / 2, made[i])]
    run = lay_out("hall", steps, room=room, start=(-77.0, 12.5), heading=0.4, level=LEVEL, closed=True)
    line = join(run, "rail", SMALL, blocks=BLOCKS)
    pieces = {(first + piece.index - 1) % 4: piece for piece in line.pieces}
    for i, piece in pieces.items():
        begin, end = ends[i - 1][1], ends[i][0]
        d, h = CORNERS.T
        want = walls[i] + beyond(begin, 90.0, d, h) + beyond(end, 90.0, d, h)
        starts, stops = piece.stations(d, h + LEVEL)
        assert stops - starts == pytest.approx(want, abs=1e-9)
        gone = trapezoid(lambda d, h: beyond(begin, 90.0, d, h) + beyond(end, 90.0, d, h))  # noqa: B023
        assert exact_volume(piece) == pytest.approx(AREA * walls[i] + gone, rel=1e-10)
    kinds = ["cope", "block", "miter", "cope"]
    told = [joint.kind for joint in line.joints]
    assert told[0] == kinds[first - 1]
    assert sorted(told) == sorted([*kinds, "block"])
