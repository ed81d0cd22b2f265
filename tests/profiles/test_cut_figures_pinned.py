"""What a cut takes alone, how tight a curve it may follow, what of it no straight approach reaches: by other means."""

from __future__ import annotations

import itertools
import math
from itertools import pairwise

import pytest
import shapely

from faced_pieces import polygon
from preview.errors import PreviewError
from preview.profiles import (
    Arc,
    Bead,
    Blank,
    Chamfer,
    CoreBox,
    Cove,
    Cut,
    Cutter,
    Drawn,
    Edge,
    Line,
    Ogee,
    Place,
    Profile,
    Region,
    Roundover,
    Straight,
    Vee,
    cut_profile,
    make_profile,
    measure,
    report_cuts,
)
from preview.profiles.cut_report import _cut_by as cut_by
from preview.profiles.cut_report import inside_radius, undercuts
from preview.profiles.cutters import check_cutter, reach
from preview.profiles.cutting import check_cut
from preview.profiles.placement import BlankFace
from region_samples import box, flattened

Point = tuple[float, float]
PI = math.pi
BLANK = Blank(width=100.0, thickness=30.0)


# Figures of one cut among others.


@pytest.mark.parametrize("order", list(itertools.permutations(range(4)))[::3])
def test_what_a_cut_takes_that_no_other_takes(order: tuple[int, ...]) -> None:
    """Grooves of one depth: by the whole millimeters of the face that each covers alone, and that any covers."""
    spans = [(10, 24), (20, 41), (39, 60), (5, 12)]
    spans = [spans[i] for i in order]
    cuts = [Cut(Straight(float(b - a), 5.0), Place("face", "foot", (a + b) / 2)) for a, b in spans]
    covered = [set(range(a, b)) for a, b in spans]
    profile = cut_profile("grooves", BLANK, cuts)
    assert 3000.0 - measure(profile).area == pytest.approx(5.0 * len(set.union(*covered)))
    for number, report in enumerate(report_cuts(profile, BLANK, cuts)):
        others = set.union(*(cells for i, cells in enumerate(covered) if i != number))
        assert report.alone == pytest.approx(5.0 * len(covered[number] - others))
        assert report.removed == pytest.approx(5.0 * len(covered[number]))


def test_a_scratch_cuts_wood_and_a_cut_beside_it_cuts_none() -> None:
    cuts = [
        Cut(Straight(0.05, 0.012), Place("face", "foot", 50.0)),
        Cut(Straight(8.0, 5.0), Place("face", "foot", 110.0)),
    ]
    scratch, missed = report_cuts(cut_profile("scratch", BLANK, cuts), BLANK, cuts)
    assert scratch.cuts_wood
    assert scratch.removed == pytest.approx(6e-4, rel=1e-6)
    assert (missed.cuts_wood, missed.removed, missed.depth, missed.lining, missed.turned) == (
        False,
        0.0,
        0.0,
        None,
        0.0,
    )
    assert missed.reach == 5.0


TAKEN = box(12.0, 4.0, 18.0, 10.0)
"""Wood taken: 6 wide, and 12 out where it is deepest."""
WALL, FLOOR, ALL = TAKEN.edges[3:4], TAKEN.edges[:1], TAKEN.edges


@pytest.mark.parametrize(
    ("face", "by", "center", "diameter", "lining"),
    [
        ("face", "foot", 7.0, 20.0, 12 + 10),
        ("face", "top", 7.0, 8.0, 12 + 4),
        ("face", "top", 7.0, None, None),  # nobody told what circle it runs on
        ("face", "foot", None, 20.0, 12 + 10),
        ("face", "top", None, None, None),
        ("top", "face", 15.0, 20.0, 12 + 10),
        ("top", "face", 15.0, None, 12 + 3),  # it runs in its own groove
        ("top", "back", 15.0, None, 12 + 3),
        ("foot", "face", 15.0, None, 12 + 3),
        ("foot", "back", 15.0, None, 12 + 3),
        ("foot", "back", 15.0, 8.0, 12 + 4),
        ("top", "face", None, 20.0, 12 + 10),
        ("top", "face", None, None, None),
        ("foot", "face", None, None, None),
        ("top", "back", None, 20.0, None),  # the back is round outward: no limit
        ("foot", "back", None, 20.0, None),
        ("foot", "back", None, None, None),
        ("back", "top", None, 20.0, None),
        ("back", "foot", 7.0, 20.0, None),
        ("back", "foot", 7.0, None, None),
    ],
)
def test_the_curve_a_cutter_follows(
    face: BlankFace, by: BlankFace, center: float | None, diameter: float | None, lining: float | None
) -> None:
    """By hand: the deepest place and half the circle, and no less than the largest projection of what was cut."""
    cut = Cut(Straight(6.0, 6.0), Place(face, by, center), diameter)
    for surface, turned in ((WALL, 12.0), (ALL, 18.0), (FLOOR, 18.0), ([*WALL, *FLOOR], 18.0), ([], 0.0)):
        told = None if lining is None else max(lining, turned)
        assert inside_radius(cut, TAKEN, surface) == (told, turned)
    assert inside_radius(cut, Region(()), []) == (None, 0.0)


def test_a_round_let_into_a_floor_is_no_part_of_the_floor() -> None:
    """A core box within a wide groove: its round starts and ends on the groove's floor, and is not the groove's."""
    cuts = [
        Cut(Straight(30.0, 6.0), Place("top", "back", 15.0)),
        Cut(CoreBox(4.0, 10.0), Place("top", "back", 15.0)),
    ]
    blank = Blank(width=60.0, thickness=40.0)
    wide, round_ = report_cuts(cut_profile("two", blank, cuts), blank, cuts)
    assert (wide.turned, round_.turned) == (pytest.approx(30.0), pytest.approx(19.0))
    assert (wide.depth, round_.depth) == (pytest.approx(6.0), pytest.approx(10.0))
    sides: list[tuple[BlankFace, tuple[float, float]]] = [("face", (30.0, 24.0)), ("back", (6.0, 10.0))]
    for face, turned in sides:
        place = Place(face, "foot", 50.0)
        cuts = [Cut(Straight(30.0, 6.0), place), Cut(CoreBox(4.0, 10.0), place)]
        reports = report_cuts(cut_profile("let in", BLANK, cuts), BLANK, cuts)
        assert [report.turned for report in reports] == pytest.approx(turned)


# What is hidden.


def sized(points: list[Point], size: float) -> Profile:
    return polygon(*((size * d, size * h) for d, h in points))


def lips(count: int) -> list[Point]:
    """A board with lips that hang from its face, 40 mm apart: each hides the channel behind it."""
    face: list[Point] = [(10, 0)]
    for i in range(count):
        face += [(10, 20 + 40 * i), (16, 20 + 40 * i), (16, 12 + 40 * i), (22, 12 + 40 * i), (22, 30 + 40 * i)]
        face += [(10, 34 + 40 * i)]
    return [(0, 0), *face, (10, 40 * count), (0, 40 * count)]


def hook() -> Profile:
    """Under a lip, a hollow that leaves the face level and comes down along the lip; over it a round that does."""
    edges: list[Edge] = [
        Line((0, 0), (12, 0)),
        Line((12, 0), (12, 20)),
        Arc((12, 20), (24, 20), (18, 20), -PI),
        Line((24, 20), (24, 14)),
        Line((24, 14), (30, 14)),
        Arc((30, 14), (16, 28), (16, 14), PI / 2),
        Arc((16, 28), (16, 36), (16, 32), -PI),
        Line((16, 36), (20, 40)),
        *(Line(a, b) for a, b in pairwise([(20.0, 40.0), (0.0, 40.0), (0.0, 0.0)])),
    ]
    return make_profile("hook", edges)


def along(profile: Profile, at: Point) -> float:
    """How far along the outline a point of it lies."""
    done = 0.0
    for edge in profile.edges:
        if float(edge.distance(edge.point([0.0]) * 0.0 + at)[0]) < 1e-6:
            if isinstance(edge, Arc):
                angle = edge.angle_to(at)
                return done + edge.radius * (angle if angle <= abs(edge.sweep) + 1e-6 else 0.0)
            return done + math.dist(edge.start, at)
        done += edge.length
    raise AssertionError(at)


FALL = math.tan(math.radians(20.0))
SHAPES = [
    sized(lips(1), 1.0),
    sized(lips(3), 1.0),
    sized(lips(1), 0.05),
    sized(lips(1), 40.0),
    hook(),
    sized(
        [
            (0, 0),
            (30, 0),
            (30, 8),
            (14, 14),
            (14, 20),
            (26, 23),
            (26, 30),
            (6, 30),
            (6, 36),
            (40, 36),
            (40, 50),
            (0, 50),
        ],
        1.0,
    ),
    # A lip over a ledge that falls away by 20 degrees, hidden in part where one looks up by as much.
    polygon((0, 0), (40, 0), (40, 30 - 30 * FALL), (10, 30), (10, 60), (30, 60), (30, 36), (34, 36), (34, 70), (0, 70)),
    # Flat and narrow, a lip far out before the face: a long way off what it hides.
    polygon((0, 0), (2, 0), (2, 6), (90, 6), (90, 2), (94, 2), (94, 10), (0, 10)),
]


@pytest.mark.parametrize("degrees", [0.0, 20.0, -20.0, 45.0, 90.0, 140.0])
@pytest.mark.parametrize("profile", SHAPES, ids=range(len(SHAPES)))
def test_what_no_straight_approach_reaches(profile: Profile, degrees: float) -> None:
    """A point of the outline is hidden where a line of sight from it runs into the wood: asked of shapely."""
    out = (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    if degrees % 90 == 0.0:
        out = (round(out[0]) * 1.0, round(out[1]) * 1.0)
    size = measure(profile).h_max / 40
    wood = flattened(Region((profile.edges,)), 1000)
    shapely.prepare(wood)
    whole = measure(profile).perimeter
    found = undercuts(profile, profile.edges, out)
    spans = [(along(profile, stretch.start), along(profile, stretch.end)) for stretch in found]
    done, rays, hidden = 0.0, [], []
    for edge in profile.edges:
        for t in (0.021, 0.11, 0.23, 0.37, 0.521, 0.66, 0.83, 0.979):
            s = done + t * edge.length
            if any(abs(math.remainder(s - end, whole)) < 0.02 * size for span in spans for end in span):
                continue
            (d, h), (along_d, along_h) = edge.point([t])[0].tolist(), edge.tangent([t])[0].tolist()
            start = (d + 1e-4 * size * along_h, h - 1e-4 * size * along_d)
            rays.append(shapely.LineString([start, (start[0] + 9e3 * out[0], start[1] + 9e3 * out[1])]))
            hidden.append(any((s - a) % whole <= (b - a) % whole for a, b in spans))
        done += edge.length
    assert shapely.intersects(wood, rays).tolist() == hidden
    assert all(math.dist(a.end, b.start) > 1e-6 * size for a in found for b in found)  # one does not go on with another


@pytest.mark.parametrize(("profile", "degrees"), [(SHAPES[0], -20.0), (SHAPES[1], 0.0), (SHAPES[4], 0.0)], ids=range(3))
def test_stretches_are_the_same_wherever_the_list_begins(profile: Profile, degrees: float) -> None:
    out = (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    found = [(*stretch.start, *stretch.end) for stretch in undercuts(profile, profile.edges, out)]
    for first in range(1, len(profile.edges), 2):
        again = undercuts(profile, [*profile.edges[first:], *profile.edges[:first]], out)
        assert len(again) == len(found)
        for stretch in again:
            assert any((*stretch.start, *stretch.end) == pytest.approx(one, abs=1e-9) for one in found)


# Cutters to the last bit, and how far they go.


@pytest.mark.parametrize(
    ("cutter", "down"),
    [
        (Roundover(8.0, step=2.0, inset=3.0), 10.0),
        (Cove(8.0, step=1.5), 9.5),
        (Chamfer(6.0, PI / 6, step=1.0), 1.0 + 6.0 * math.tan(PI / 6)),
        (Ogee(5.0, 4.0, step=1.0), 10.0),
        (Ogee(5.0, 4.0, reverse=True), 9.0),
        (CoreBox(5.0, 8.0), 8.0),
        (CoreBox(5.0, 2.0), 2.0),
        (Vee(PI / 3, 6.0), 6.0),
        (Bead(4.0, 1.0), 4.0),
        (Bead(4.0, 1.0, 6.0), 6.0),
        (Straight(10.0, 4.0), 4.0),
        (Drawn(polygon((0, 0), (6, 0), (4, 10), (0, 10)), 12.0), 12.0),
    ],
    ids=lambda value: str(value)[:40],
)
def test_how_far_down_a_cutter_goes(cutter: Cutter, down: float) -> None:
    assert reach(cutter) == pytest.approx(down, rel=1e-12)


def test_a_square_v_is_as_wide_as_it_is_deep_bit_for_bit() -> None:
    """tan 45° is 1; in floating point tan(pi / 4) is not. The section ends 1 mm over the face."""
    corners = {edge.start for edge in Vee(PI / 2, 6.0).section().edges}
    assert corners == {(0.0, 6.0), (7.0, -1.0), (-7.0, -1.0)}


@pytest.mark.parametrize(
    ("depth", "degrees"), [(None, 180.0), (4.0, 180.0), (7.0, 180.0), (2.0, 120.0), (4.0 - 2.0 * math.sqrt(2.0), 90.0)]
)
def test_how_much_of_a_circle_a_bead_is(depth: float | None, degrees: float) -> None:
    """Sunk by half its radius, its foot is a chord half a radius from its center: 120 degrees."""
    (round_,) = (edge for edge in Bead(4.0, 1.0, depth).section().edges if isinstance(edge, Arc))
    assert abs(math.degrees(round_.sweep)) == pytest.approx(degrees, abs=1e-9)
    assert round_.bounds[1] == pytest.approx(0.0, abs=1e-12)
    assert round_.radius == pytest.approx(4.0)


DIAMOND = polygon((0, 0), (6, 5), (0, 10))
TRAPEZOID = polygon((0, 0), (6, 0), (4, 10), (0, 10))


def test_a_cutter_that_ends_in_a_point_has_no_shank() -> None:
    assert Drawn(DIAMOND, 10.0).section().area == pytest.approx(60.0)
    assert Drawn(DIAMOND, 14.0).section().area == pytest.approx(60.0)
    with pytest.raises(PreviewError, match="leave a closed hollow 10 mm by 12 mm, from 45 mm up, which no cutter"):
        cut_profile("hollow", BLANK, [Cut(Drawn(DIAMOND, 14.0), Place("face", "foot", 51.0))])


@pytest.mark.parametrize("over", [0.0, 0.5, 1.0, 1.5, 4.0])
def test_a_cutter_drawn_to_over_the_face(over: float) -> None:
    """The trapezoid lets in all but so much of its height; a shank is drawn up to 1 mm over the face only."""
    cutter = Drawn(TRAPEZOID, 10.0 - over)
    assert cutter.section().area == pytest.approx(100.0 + 8.0 * max(0.0, 1.0 - over))
    cut = Cut(cutter, Place("face", "foot", 50.0))
    left = measure(cut_profile("let in", BLANK, [cut])).area
    assert 3000.0 - left == pytest.approx(100.0 - over * (8.0 + 0.2 * over))


def test_the_very_sizes_and_angles_that_are_allowed() -> None:
    for size in (1e-3, 1e4):
        for cutter in (Roundover(size), Straight(size, 3.0), Roundover(3.0, step=size), Bead(3.0, size)):
            check_cutter(cutter)
    for degrees in (1.0, 89.0):
        check_cutter(Chamfer(3.0, math.radians(degrees)))
    for degrees in (1.0, 179.0):
        check_cutter(Vee(math.radians(degrees), 3.0))
    for angle in (PI - math.radians(1.0), math.radians(1.0)):
        check_cutter(Vee(angle, 3.0))


@pytest.mark.parametrize(("diameter", "sound"), [(5e-4, True), (80.0, True), (0.0, False), (math.inf, False)])
def test_the_diameters_there_are(diameter: float, sound: bool) -> None:
    cut = Cut(Cove(5.0), Place("face", "top"), diameter)
    if sound:
        check_cut(cut)
        return
    with pytest.raises(PreviewError, match="give the diameter of the cutter's largest cutting circle"):
        check_cut(cut)


@pytest.mark.parametrize(
    ("cuts", "said"),
    [
        (
            [Cut(Straight(10.0, 100.0), Place("top", "back", 16.0))],
            "sever the wood into 2 pieces: 11 mm by 100 mm, from 0 mm up and 9 mm by 100 mm, from 0 mm up",
        ),
        (
            [Cut(Straight(5.0, 30.0), Place("face", "foot", 40.0))],
            "sever the wood into 2 pieces: 30 mm by 57.5 mm, from 42.5 mm up and 30 mm by 37.5 mm, from 0 mm up",
        ),
        (
            # Two slopes from the back that meet half way up, where nothing but a point is left of it.
            [Cut(Chamfer(50.0, 0.3), Place("back", "top")), Cut(Chamfer(50.0, 0.3), Place("back", "foot"))],
            "the cuts leave nothing of the back",
        ),
    ],
)
def test_what_is_said_of_wood_cut_away(cuts: list[Cut], said: str) -> None:
    with pytest.raises(PreviewError) as refused:
        cut_profile("cut away", BLANK, cuts)
    assert said in refused.value.problems[0].problem


def test_one_floor_left_by_two_passes_is_each_s_own_as_far_as_it_goes() -> None:
    """Straights 20 wide along the top, at 30 and 50 of 60 mm: 20 to 40 and 40 to 60 out from the back."""
    wood = Blank(60.0, 60.0)
    cuts = [Cut(Straight(20.0, 5.0), Place("top", "back", at)) for at in (30.0, 50.0)]
    profile = cut_profile("stepped", wood, cuts)
    first, second = report_cuts(profile, wood, cuts)
    assert (first.turned, second.turned) == (pytest.approx(40.0), pytest.approx(60.0))
    low, high = cuts[0].region(wood), cuts[1].region(wood)
    for swept, across in ((low, (20.0, 40.0)), (high, (40.0, 60.0))):
        parts = [part for edge in profile.edges for part in cut_by(edge, swept)]
        floors = [part for part in parts if part.bounds[1] == part.bounds[3] == pytest.approx(55.0)]
        assert [(part.bounds[0], part.bounds[2]) for part in floors] == [pytest.approx(across)]
