"""Blanks laid out in plan by shapely: the staves hold the round, the saw's slots clear the pieces, the arcs nest."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union

from preview.blanks import Parting, StavedBlank, nesting, part, rings, sawn, staved
from preview.errors import PreviewError
from strategies import share

FINE = 4e-3
"""What polygons of many sides leave of a circle, mm."""


def arc_points(radius: float, start: float, stop: float, count: int | None = None) -> list[tuple[float, float]]:
    """Points on an arc, half a degree apart at most."""
    count = count or 2 + math.ceil((stop - start) / math.radians(0.5))
    return [
        (radius * math.cos(a), radius * math.sin(a))
        for a in (start + (stop - start) * i / (count - 1) for i in range(count))
    ]


def sector(inner: float, outer: float, start: float, stop: float) -> Polygon:
    return Polygon([*arc_points(outer, start, stop), *reversed(arc_points(inner, start, stop))])


def annulus(inner: float, outer: float) -> Polygon:
    return Polygon(arc_points(outer, 0.0, 2 * math.pi), [arc_points(inner, 0.0, 2 * math.pi)])


def stave(blank: StavedBlank, number: int) -> Polygon:
    """One stave, drawn from what the shop is told: two widths and a thickness, on its own flat."""
    half, inside = blank.face_width / 2, blank.inner_width / 2
    near, far = blank.flat - blank.thickness, blank.flat
    shape = Polygon([(near, -inside), (far, -half), (far, half), (near, inside)])
    turn = (number + 0.5) * 360 / blank.staves  # a glue line at 0
    return affinity.rotate(shape, turn, origin=(0, 0))


def ring_of(blank: StavedBlank) -> Polygon:
    return unary_union([stave(blank, i).buffer(1e-7, join_style="mitre") for i in range(blank.staves)])


radii = st.tuples(st.integers(15, 120), st.integers(6, 40)).map(lambda pair: (pair[0] * 1.0, pair[0] + pair[1] * 1.0))


@share(0.25)
@given(radii, st.integers(3, 16), st.sampled_from([0.0, 1.5, 3.0]))
def test_the_staves_hold_the_finished_round(sizes: tuple[float, float], staves: int, clean: float) -> None:
    inner, outer = sizes
    try:
        blank = staved(outer, inner, 60.0, 1.0, staves=staves, clean=clean)
    except PreviewError:
        assume(False)
        raise
    ring = ring_of(blank)
    wood = annulus(inner - clean, outer + clean)
    assert wood.difference(ring.buffer(FINE, join_style="mitre")).area < 1e-6
    # No more than that: a hair less on the face, or on the thickness, and the round does not clean up.
    assert wood.difference(ring.buffer(-0.05, join_style="mitre")).area > 0.0
    wider = Polygon(arc_points((blank.opening + 0.5) / math.cos(math.pi / staves), 0.0, 2 * math.pi, staves + 1))
    thinner = ring.difference(wider)
    assert wood.difference(thinner.buffer(FINE, join_style="mitre")).area > 0.0
    # Edges meet: the corners of neighbors fall on each other, and the angle of each edge is 180/N.
    x, y = blank.face_width / 2 - blank.inner_width / 2, blank.thickness
    assert math.atan2(x, y) == pytest.approx(blank.edge_angle)
    reach = max(math.hypot(*at) for at in ring.exterior.coords)
    assert blank.diagonal == pytest.approx(2 * reach, abs=1e-4)
    assert ring.contains(Point(0, 0)) is False


def slot(angle: float, kerf: float, inner: float, outer: float, side: float) -> Polygon:
    """A saw's slot with parallel sides: with one side on the plane at `angle`, or with the plane in its middle."""
    low, high = {0.0: (-kerf / 2, kerf / 2), 1.0: (0.0, kerf), -1.0: (-kerf, 0.0)}[side]
    shape = Polygon([(inner / 2, low), (outer * 1.2, low), (outer * 1.2, high), (inner / 2, high)])
    return affinity.rotate(shape, math.degrees(angle), origin=(0, 0))


def pieces_of(parting: Parting, inner: float, outer: float) -> list[Polygon]:
    """The pieces as they come: true sectors, or ones cut off square `loss` before their true ends."""
    found = []
    for start, stop in parting.spans:
        piece = sector(inner, outer, start, stop)
        if parting.chosen.kind == "longer neighbors":
            for angle, low, high in ((start, -5.0, parting.loss), (stop, -parting.loss, 5.0)):
                cut = Polygon([(1.0, low), (2 * outer, low), (2 * outer, high), (1.0, high)])
                piece = piece.difference(affinity.rotate(cut, math.degrees(angle), origin=(0, 0)))
        found.append(piece)
    return found


def _crossed(piece: Polygon, staves: int, inner: float, outer: float) -> int:
    found = 0
    for line in range(staves):
        x, y = math.cos(2 * math.pi * line / staves), math.sin(2 * math.pi * line / staves)
        ray = LineString([(inner * x / 2, inner * y / 2), (2 * outer * x, 2 * outer * y)])
        found += ray.intersection(piece).length > outer - inner - 0.05
    return found


sweeps = st.one_of(st.integers(20, 300), st.sampled_from([30, 36, 45, 60, 72, 90, 120, 180])).map(math.radians)


@share(0.35)
@given(radii, sweeps, st.sampled_from([1.0, 3.175, 6.0]), st.integers(3, 16), st.booleans())
def test_the_slots_clear_the_pieces(
    sizes: tuple[float, float], sweep: float, kerf: float, staves: int, straights: bool
) -> None:
    inner, outer = sizes
    try:
        parting = part(sweep, outer, inner, kerf=kerf, staves=staves, face=outer, meets_straights=straights)
    except PreviewError:
        assert sweep + math.asin(kerf / inner) > 2 * math.pi
        return
    pieces = pieces_of(parting, inner, outer)
    assert len(pieces) == parting.pieces == len(parting.lines)
    assert parting.pieces == (parting.true if parting.chosen.kind in ("spare", "fewer pieces") else parting.most)
    pitch = 2 * math.pi / len(pieces)
    slots = []
    for start, stop in parting.spans:
        if parting.chosen.kind == "longer neighbors":
            slots.append(slot(start - (pitch - sweep) / 2, kerf, inner, outer, 0.0))
        else:
            slots += [slot(start, kerf, inner, outer, -1.0), slot(stop, kerf, inner, outer, 1.0)]
    count = len(pieces)
    for i, piece in enumerate(pieces):
        near = slots[2 * i : 2 * i + 2] if len(slots) > count else [slots[i], slots[(i + 1) % count]]
        assert all(piece.intersection(each).area < FINE * kerf for each in near), parting
        if count > 1:
            following = pieces[(i + 1) % count]
            assert piece.distance(following) > kerf - FINE
            assert all(following.intersection(each).area < FINE * kerf for each in near)
        # Glue lines: where a ray from the axis runs right through the piece.
        smaller, larger = (_crossed(piece.buffer(by, join_style="mitre"), staves, inner, outer) for by in (-0.02, 0.02))
        assert smaller <= len(parting.lines[i]) <= larger
    # One more true piece would not fit: with it the ends come nearer than the kerf is wide.
    more = parting.true + 1
    assert more * sweep > 2 * math.pi or 2 * inner * math.sin((2 * math.pi / more - sweep) / 2) < kerf * 1.1
    assert more * (sweep + parting.kerf_angle) > 2 * math.pi


@pytest.mark.parametrize("degrees", [60, 90, 120, 180])
def test_packed_and_longer_by_drawing(degrees: int) -> None:
    """Pieces sawn out of a full round, put back on the corner: what each remedy says of them is seen in the drawing."""
    sweep, outer, inner, kerf = math.radians(degrees), 80.0, 50.0, 3.175
    count = 360 // degrees
    parting = part(sweep, outer, inner, kerf=kerf, staves=count, face=outer, meets_straights=True)
    by = {each.kind: each for each in parting.remedies}
    assert set(by) == {"longer neighbors", "fewer pieces", "packed joints", "paper joints"}
    assert parting.loss == pytest.approx(kerf / 2)
    # Longer neighbors: at the plane half a kerf in, the arc has turned and fallen by so much.
    longer = by["longer neighbors"]
    x = kerf / 2
    assert longer.longer == pytest.approx(x)
    assert longer.kink == pytest.approx(math.atan2(x, math.sqrt(outer**2 - x**2)))
    assert longer.step == pytest.approx(inner - math.sqrt(inner**2 - x**2))
    # Packed joints: turn the face larger, saw, and measure from where the planes of the two ends meet.
    packed = by["packed joints"]
    turned = outer + packed.larger / 2
    middle = sweep / 2
    apex = x / math.sin(middle)
    end = (math.sqrt(turned**2 - x**2), x)  # the end of the arc beside the plane at angle 0
    at_apex = (apex * math.cos(middle), apex * math.sin(middle))
    assert math.dist(end, at_apex) == pytest.approx(outer)  # the ends are true
    assert outer - (turned - apex) == pytest.approx(packed.flat)  # and the middle is flat
    if degrees == 90:
        assert packed.flat / kerf == pytest.approx((math.sqrt(2) - 1) / 2, abs=0.01)  # 0.207 of a kerf
        assert packed.larger / kerf == pytest.approx(1.0, abs=0.05)  # a kerf on the diameter
    if degrees == 180:
        assert packed.flat == pytest.approx(kerf / 2, rel=0.02)  # two halves close to an oval, a kerf narrower one way
    assert (by["paper joints"].pieces, by["fewer pieces"].pieces) == (count, count - 1)


@share(0.2)
@given(radii, st.integers(10, 60).map(math.radians), st.sampled_from([1.0, 3.175]))
def test_arcs_nest_on_a_board(sizes: tuple[float, float], angle: float, kerf: float) -> None:
    inner, outer = sizes[0] * 4, sizes[0] * 4 + sizes[1] - sizes[0]
    first = sector(inner, outer, math.pi / 2 - angle / 2, math.pi / 2 + angle / 2)
    pitch = nesting(outer, inner, angle, kerf)
    assert first.distance(affinity.translate(first, 0, pitch)) == pytest.approx(kerf, abs=0.02)
    arc = sawn(outer, inner, 19.0, angle, kerf=kerf, clean=0.0)
    low_x, low_y, high_x, high_y = first.bounds
    assert (high_x - low_x, high_y - low_y) == pytest.approx((arc.length, arc.width), abs=0.01)
    nested = unary_union([affinity.translate(first, 0, i * arc.pitch) for i in range(arc.across)])
    assert nested.bounds[3] - nested.bounds[1] <= 304.8 + 0.01


@share(0.2)
@given(radii, st.integers(6, 24), st.sampled_from([0.0, 1.5]))
def test_segments_hold_the_ring(sizes: tuple[float, float], segments: int, clean: float) -> None:
    inner, outer = sizes
    stack = rings(outer, inner, 60.0, 1.0, segments=segments, clean=clean)
    out, half = outer + clean, stack.length / 2
    inside = half - stack.width * math.tan(stack.cut)
    shape = Polygon([(out - stack.width, -inside), (out, -half), (out, half), (out - stack.width, inside)])
    ring = unary_union(
        [
            affinity.rotate(shape, i * 360 / segments, origin=(0, 0)).buffer(1e-7, join_style="mitre")
            for i in range(segments)
        ]
    )
    assert annulus(inner - clean, outer + clean).difference(ring.buffer(FINE, join_style="mitre")).area < 1e-6


def test_the_drawing_sees_a_wrong_kerf() -> None:
    """Planted faults: kerf taken as an arc on the outside radius, and a plain even split."""
    inner, outer, kerf, sweep = 20.0, 60.0, 3.175, math.radians(80)
    for gap in (kerf / outer, 0.0):
        one, two = sector(inner, outer, 0.0, sweep), sector(inner, outer, sweep + gap, 2 * sweep + gap)
        assert slot(sweep, kerf, inner, outer, 1.0).intersection(two).area > 1.0
        assert one.distance(two) < kerf - 0.5


def test_an_arc_is_laid_like_bricks() -> None:
    """A half round too large for the lathe, 37 high: two layers of three segments of 60 degrees. The second one begins
    and ends with half a segment, so it has three joints where the first has two, and takes four parts, not three."""
    stack = rings(320.0, 290.0, 37.0, math.pi)
    assert not stack.whole
    assert (stack.layers, stack.segments, stack.parts, stack.joints) == (2, 3, 7, 5)
    assert math.degrees(stack.run_out) == pytest.approx(30.0)
    assert stack.offset == pytest.approx(stack.angle / 2)
    assert (stack.parting, stack.pieces) == (None, 1)
    # An arc that one segment holds is stacked without an end joint.
    single = rings(900.0, 870.0, 37.0, math.radians(40))
    assert (single.segments, single.parts, single.joints, single.offset) == (1, 2, 0, 0.0)
    outline = sector(870.0 - 1.5875, 900.0 + 1.5875, math.radians(70), math.radians(110))
    low_x, low_y, high_x, high_y = outline.bounds
    assert (high_x - low_x, high_y - low_y) == pytest.approx((single.length, single.width), abs=0.01)


@pytest.mark.parametrize(("wanted", "kind", "pieces"), [(1, "fewer pieces", 1), (2, "fewer pieces", 2), (3, None, 4)])
def test_few_quarters_are_sawn_true_outside_their_glue_lines(wanted: int, kind: str | None, pieces: int) -> None:
    """Four staves, quarters wanted: one, or two across from each other, are a stave each, from glue line to glue line.

    A third true one would have a glue line in its face, so that three are sawn as four are.
    """
    found = part(math.pi / 2, 100.0, 80.0, kerf=3.0, staves=4, meets_straights=True, wanted=wanted)
    assert found.pieces == pieces
    assert (found.chosen.kind == kind) == (kind is not None)
    if kind is not None:
        assert found.chosen.longer == 0.0
        assert not any(found.lines)
        for start, stop in found.spans:
            assert (start / (math.pi / 2)) % 1 == pytest.approx(0.0, abs=1e-12)
            assert stop - start == pytest.approx(math.pi / 2)
