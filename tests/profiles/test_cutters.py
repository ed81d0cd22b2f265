"""Profiles from cutters: closed-form areas, every face and arris, and what is told about each cut."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

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
    Line,
    Ogee,
    Place,
    Profile,
    Roundover,
    Shape,
    Straight,
    Vee,
    cut_profile,
    flatten,
    make_profile,
    measure,
    report_cuts,
    sketch,
    thin_webs,
)
from preview.profiles.cut_report import undercuts
from region_samples import flattened

BLANK = Blank(width=100.0, thickness=30.0)
PI = math.pi
SPANDREL = 1 - PI / 4  # of a square, left by a quarter circle (Machinery's Handbook, 31st ed., areas: spandrel)
DOVETAIL = sketch("dovetail", 8.0, [Shape("bevel", rise=10.0, out=-4.0)])

ARRIS_CUTS: list[tuple[Cutter, float]] = [
    (Roundover(8.0), SPANDREL * 64),
    (Roundover(8.0, step=2.0), SPANDREL * 64 + 8 * 2),
    (Roundover(8.0, step=2.0, inset=3.0), SPANDREL * 64 + 8 * 2 + 3 * 8 + 2 * 3),
    (Cove(8.0), 16 * PI),
    (Cove(8.0, step=2.0), 16 * PI + 8 * 2),
    (Chamfer(6.0), 18.0),
    (Chamfer(6.0, PI / 6), 18 * math.tan(PI / 6)),
    (Ogee(round=5.0, hollow=4.0), 4 * PI + 5 * 4 + SPANDREL * 25),
    (Ogee(round=5.0, hollow=4.0, reverse=True), 4 * PI + 5 * 4 + SPANDREL * 25),
    (Straight(10.0, 4.0), 40.0),
    (Bead(4.0, quirk=1.0), 2 * SPANDREL * 16 + 4),
    # A bead sunk by half its radius stands on a chord of 120 degrees: segment r²(2π/3 - sin 2π/3)/2.
    (Bead(4.0, quirk=1.0, depth=2.0), 4 * math.sqrt(3) * 2 - 8 * (2 * PI / 3 - math.sin(2 * PI / 3)) + 2),
]
FACE_CUTS: list[tuple[Cutter, float]] = [
    (CoreBox(5.0, 5.0), 12.5 * PI),
    (CoreBox(5.0, 8.0), 12.5 * PI + 30),
    (CoreBox(5.0, 2.0), 25 * math.acos(0.6) - 12),  # a segment: r² acos((r-h)/r) - (r-h) sqrt(2rh - h²)
    (Vee(PI / 2, 6.0), 36.0),
    (Vee(PI / 3, 6.0), 36 * math.tan(PI / 6)),
    (Straight(6.0, 7.0), 42.0),
    (Bead(4.0, quirk=1.0), 4 * SPANDREL * 16 / 2 + 8),
    (Bead(4.0, quirk=1.0, depth=6.0), 2 * SPANDREL * 16 + 2 * 6),
    (Drawn(DOVETAIL, 10.0), 120.0),
    (Drawn(DOVETAIL, 12.0), 120.0 + 8 * 2),  # straight up from where the drawing ends
]


def taken(cutter: Cutter, place: Place) -> float:
    return BLANK.width * BLANK.thickness - measure(cut_profile("cut", BLANK, [Cut(cutter, place)])).area


@pytest.mark.parametrize(("cutter", "area"), ARRIS_CUTS, ids=lambda value: str(value)[:40])
@pytest.mark.parametrize(
    "place",
    [Place("face", "top"), Place("top", "face"), Place("foot", "face"), Place("back", "top"), Place("foot", "back")],
)
def test_at_every_arris(cutter: Cutter, area: float, place: Place) -> None:
    assert taken(cutter, place) == pytest.approx(area, abs=1e-9 * 3000)


@pytest.mark.parametrize(("cutter", "area"), FACE_CUTS, ids=lambda value: str(value)[:40])
@pytest.mark.parametrize(
    "place",
    [
        Place("face", "foot", 40),
        Place("face", "top", 40),
        Place("back", "foot", 50),
        Place("top", "face", 15),
        Place("foot", "back", 14),
    ],
)
def test_in_every_face(cutter: Cutter, area: float, place: Place) -> None:
    assert taken(cutter, place) == pytest.approx(area, abs=1e-9 * 3000)


def test_where_a_cut_lands() -> None:
    """The first face is the one worked from: a rabbet's width lies along it and its depth square to it."""
    face_first = cut_profile("a", BLANK, [Cut(Straight(10.0, 4.0), Place("face", "top"))])
    assert (26.0, 90.0) in [edge.start for edge in face_first.edges]
    top_first = cut_profile("a", BLANK, [Cut(Straight(10.0, 4.0), Place("top", "face"))])
    assert (20.0, 96.0) in [edge.start for edge in top_first.edges]
    groove = cut_profile("a", BLANK, [Cut(CoreBox(5.0, 5.0), Place("face", "top", 30.0))])
    (arc,) = [edge for edge in groove.edges if isinstance(edge, Arc)]
    assert (arc.center, arc.bounds[0], arc.sweep) == ((30.0, 70.0), 25.0, pytest.approx(-PI))


def test_arcs_of_an_ogee_are_tangent() -> None:
    """By the face the hollow of a cyma recta leaves square, the round meets the top along it; reversa the other way."""
    for reverse, first in ((False, 4.0), (True, 5.0)):
        cuts = [Cut(Ogee(5.0, 4.0, reverse), Place("face", "top"))]
        arcs = [edge for edge in cut_profile("a", BLANK, cuts).edges if isinstance(edge, Arc)]
        assert [arc.radius for arc in arcs] == pytest.approx([first, 9.0 - first])
        assert arcs[0].tangent(1.0) == pytest.approx(arcs[1].tangent(0.0), abs=1e-12)
        assert arcs[0].tangent(0.0) == pytest.approx(np.array([0.0, 1.0] if reverse else [-1.0, 0.0]), abs=1e-12)


def test_cuts_overlap_and_order_does_not_matter() -> None:
    cuts = [
        Cut(Straight(20.0, 6.0), Place("face", "foot", 40.0)),
        Cut(Straight(20.0, 10.0), Place("face", "foot", 50.0)),  # overlaps the first by half
        Cut(Roundover(30.0), Place("face", "top")),  # as wide as the blank is thick: the top is gone
        Cut(Cove(8.0), Place("face", "foot")),
    ]
    profile = cut_profile("a", BLANK, cuts)
    area = 3000 - 20 * 10 - 10 * 6 - SPANDREL * 900 - 16 * PI
    assert measure(profile).area == pytest.approx(area, rel=1e-9)
    assert measure(cut_profile("a", BLANK, cuts[::-1])).area == pytest.approx(area, rel=1e-9)


def test_no_cuts_leave_the_blank() -> None:
    assert len(cut_profile("blank", BLANK, []).edges) == 4


@st.composite
def some_cuts(draw: st.DrawFn) -> list[Cut]:
    """Cuts of every kind, whole and half mm half of the time, wherever they may lie."""

    def size(low: int, high: int) -> float:
        return draw(
            st.one_of(
                st.integers(2 * low, 2 * high).map(lambda halves: halves / 2),
                st.floats(low, high).map(lambda value: round(value, 2)),
            )
        )

    cuts: list[Cut] = []
    for _ in range(draw(st.integers(1, 7))):
        kind = draw(st.integers(0, 8))
        shoulders = (size(0, 4), size(0, 4))
        at = Place("face", draw(st.sampled_from(["top", "foot"])))
        on = Place("face", "foot", size(0, 100))
        made: list[Cut] = [
            Cut(Roundover(size(1, 10), *shoulders), at),
            Cut(Cove(size(1, 10), *shoulders), at),
            Cut(Chamfer(size(1, 10), math.radians(size(20, 50)), *shoulders), at),
            Cut(Ogee(size(1, 6), size(1, 6), draw(st.booleans()), *shoulders), at),
            Cut(CoreBox(size(1, 10), size(1, 10)), on),
            Cut(Vee(math.radians(size(40, 120)), size(1, 10)), on),
            Cut(Bead(size(1, 6), size(1, 3), size(1, 7)), on),
            Cut(Straight(size(1, 20), size(1, 10)), on),
            Cut(Drawn(DOVETAIL, size(6, 12)), on),
        ]
        cuts.append(made[kind])
    return cuts


@settings(max_examples=25, deadline=None)
@given(some_cuts())
def test_shapely_agrees_on_random_cuts(cuts: list[Cut]) -> None:
    try:
        profile = cut_profile("at random", BLANK, cuts)
    except PreviewError as error:  # severed by dovetails side by side, or a web thinner than the eye sees
        assume("sever" not in str(error) and "touches itself" not in str(error))
        raise
    theirs = shapely.difference(
        flattened(BLANK.region()), shapely.union_all([flattened(cut.region(BLANK)) for cut in cuts])
    )
    size = measure(profile)
    assert size.area == pytest.approx(theirs.area, abs=0.05)
    assert (size.d_min, size.h_min) == (0.0, 0.0)
    for before, edge in pairwise((*profile.edges, profile.edges[0])):
        assert before.end == edge.start
    for report in report_cuts(profile, BLANK, cuts):
        assert 0.0 <= report.alone <= report.removed + 1e-6
        assert report.depth <= report.reach + 1e-9


@pytest.mark.parametrize(
    ("cut", "place", "said"),
    [
        (Cut(Roundover(0.0), Place("face", "top")), "cut 1 (roundover), radius", "which cuts nothing"),
        (Cut(Roundover(5.0, step=-1.0), Place("face", "top")), "cut 1 (roundover), step", "is -1 mm, less than 0"),
        (Cut(Bead(5.0, 0.0, 6.0), Place("face", "top")), "cut 1 (bead), quirk", "too narrow to cut"),
        (Cut(Cove(math.nan), Place("face", "top")), "cut 1 (cove), radius", "is nan, which is no length"),
        (Cut(Straight(1e9, 5.0), Place("face", "top")), "cut 1 (straight), width", "which is no cutter"),
        (Cut(Vee(PI, 5.0), Place("face", "foot", 9.0)), "cut 1 (V), angle", "180°, measured between the sides"),
        (Cut(Chamfer(5.0, PI / 2), Place("face", "top")), "cut 1 (chamfer), angle", "90°, measured from the face"),
        (Cut(CoreBox(5.0, 5.0), Place("face", "top")), "cut 1 (core box)", "works in a face"),
        (Cut(Cove(5.0), Place("face", "top", 4.0)), "cut 1 (cove)", "works at an arris"),
        (Cut(Cove(5.0), Place("face", "back")), "cut 1 (cove)", "do not meet"),
        (Cut(Cove(5.0), Place("face", "top"), diameter=0.0), "cut 1 (cove), diameter", "the diameter is 0 mm"),
        (Cut(CoreBox(5.0, 5.0), Place("face", "top", math.inf)), "cut 1 (core box)", "nowhere"),
        (Cut(Straight(5.0, 30.0), Place("face", "foot", 50.0)), "", "2 pieces: 30 mm by 47.5 mm, from 0 mm up and"),
        (Cut(Straight(200.0, 30.0), Place("face", "foot", 50.0)), "", "leave no wood"),
        (Cut(Straight(200.0, 5.0), Place("back", "foot", 50.0)), "", "leave nothing of the back"),
    ],
)
def test_refusals(cut: Cut, place: str, said: str) -> None:
    with pytest.raises(PreviewError) as caught:
        cut_profile("wrong", BLANK, [cut])
    (problem,) = caught.value.problems
    assert problem.place == place
    assert said in problem.problem
    assert problem.fix


def test_every_wrong_cut_is_told() -> None:
    with pytest.raises(PreviewError) as caught:
        cut_profile("wrong", BLANK, [Cut(Cove(-1.0), Place("face", "top")), Cut(Cove(1.0), Place("top", "foot"))])
    assert len(caught.value.problems) == 2
    with pytest.raises(PreviewError, match="the thickness of the blank is 0 mm"):
        cut_profile("wrong", Blank(100.0, 0.0), [])


# What is told about a cut.


def test_depth_and_reach() -> None:
    """A core box half off the wood is plunged to its tip, and takes wood only to where its round leaves the face."""
    cuts = [
        Cut(Roundover(8.0, step=2.0), Place("face", "top")),
        Cut(CoreBox(10.0, 10.0), Place("face", "foot", -6.0)),
        Cut(Straight(5.0, 3.0), Place("face", "foot", 300.0)),
        Cut(Straight(5.0, 4.0), Place("back", "foot", 50.0)),
        Cut(Straight(3.0, 2.0), Place("back", "foot", 50.0)),
    ]
    profile = cut_profile("a", BLANK, cuts)
    round_over, core_box, nowhere, groove, within = report_cuts(profile, BLANK, cuts)
    assert (round_over.depth, round_over.reach) == pytest.approx((10.0, 10.0))
    assert (core_box.depth, core_box.reach) == pytest.approx((8.0, 10.0))  # 6, 8, 10: a right triangle
    assert (nowhere.cuts_wood, nowhere.removed, nowhere.depth, nowhere.reach) == (False, 0.0, 0.0, 3.0)
    assert (groove.depth, groove.removed, groove.alone) == pytest.approx((4.0, 20.0, 14.0))
    assert (within.removed, within.alone) == pytest.approx((6.0, 0.0))  # the groove takes it all


def test_depth_is_below_the_face_that_is_worked() -> None:
    """A groove 6 wide: 4 deep from the face, 5 from the top, 7 from the back and 8 from the foot."""
    cuts = [
        Cut(Straight(6.0, 4.0), Place("face", "foot", 50.0)),
        Cut(Straight(6.0, 5.0), Place("top", "back", 15.0)),
        Cut(Straight(6.0, 7.0), Place("back", "foot", 30.0)),
        Cut(Straight(6.0, 8.0), Place("foot", "back", 15.0)),
    ]
    reports = report_cuts(cut_profile("a", BLANK, cuts), BLANK, cuts)
    assert [report.depth for report in reports] == pytest.approx([4.0, 5.0, 7.0, 8.0])
    assert [report.removed for report in reports] == pytest.approx([24.0, 30.0, 42.0, 48.0])


def test_only_a_cutter_wider_below_undercuts() -> None:
    cuts = [
        Cut(Drawn(DOVETAIL, 10.0), Place("face", "foot", 50.0)),
        Cut(Bead(4.0, 1.0, 6.0), Place("face", "foot", 20.0)),
        Cut(CoreBox(5.0, 8.0), Place("face", "foot", 80.0)),
        Cut(Ogee(4.0, 4.0, step=1.0, inset=1.0), Place("face", "top")),
    ]
    dovetail, *others = report_cuts(cut_profile("a", BLANK, cuts), BLANK, cuts)
    assert [report.undercuts for report in others] == [(), (), ()]
    # 8 mm to either side at its tip and 4 at the mouth: each slope, and the 4 mm of floor under it.
    low, high = sorted(dovetail.undercuts, key=lambda found: found.start[1])
    assert (low.start, low.end) == (pytest.approx((30.0, 46.0)), pytest.approx((20.0, 46.0)))
    assert (high.start, high.end) == (pytest.approx((20.0, 54.0)), pytest.approx((30.0, 54.0)))


def test_a_second_pass_opens_an_undercut() -> None:
    cuts = [
        Cut(Drawn(DOVETAIL, 10.0), Place("face", "foot", 50.0)),
        Cut(Straight(16.0, 10.0), Place("face", "foot", 50.0)),
    ]
    assert all(report.undercuts == () for report in report_cuts(cut_profile("a", BLANK, cuts), BLANK, cuts))


def test_a_round_that_is_hidden_from_the_half_turn_on() -> None:
    """A keyhole: a ball of radius 6 below a neck of 3. Its upper half is hidden; of the lower, what the lips cover."""
    ball = sketch("ball", 0.001, [Shape("ovolo", rise=6.0, out=5.999, radius=6.0), Shape("bevel", rise=6.0, out=-3.0)])
    cuts = [Cut(Drawn(ball, 12.0), Place("face", "foot", 50.0))]
    (report,) = report_cuts(cut_profile("a", BLANK, cuts), BLANK, cuts)
    low, high = sorted(report.undercuts, key=lambda found: found.start[1])
    assert low.start == pytest.approx((30.0, 47.0))
    assert low.end[1] == pytest.approx(47.0)
    assert high.start[1] == pytest.approx(53.0)


@pytest.mark.parametrize("degrees", [0.0, 20.0, -20.0])
def test_a_ball_on_a_neck_hides_what_is_behind_its_widest_place(degrees: float) -> None:
    """Radius 6 about (14, 20) on a neck 4 high. Seen along a line, a ball turns away a radius to either side of it.

    By hand, seen from straight in front: what is hidden runs from the face at 14 and at 26 to the ball's own edges.
    """
    back = math.sqrt(36.0 - 4.0)
    neck = [(0.0, 0.0), (4.0, 0.0), (4.0, 18.0), (14.0 - back, 18.0)], [(14.0 - back, 22.0), (4.0, 22.0), (4.0, 40.0)]
    round_ = Arc(neck[0][-1], neck[1][0], (14.0, 20.0), 2 * PI - 2 * math.asin(1 / 3))
    foot = [Line(a, b) for a, b in pairwise(neck[0])]
    top = [Line(a, b) for a, b in pairwise([*neck[1], (0.0, 40.0), (0.0, 0.0)])]
    profile = make_profile("ball on a neck", [*foot, round_, *top])
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    low, high = undercuts(profile, profile.edges[1:6], (cos, sin))
    assert low.end == pytest.approx((14.0 + 6.0 * sin, 20.0 - 6.0 * cos))
    assert high.start == pytest.approx((14.0 - 6.0 * sin, 20.0 + 6.0 * cos))
    # The shadow's edges on the face, 10 mm and a bit behind.
    assert low.start == pytest.approx((4.0, low.end[1] - (low.end[0] - 4.0) * sin / cos))
    assert high.end == pytest.approx((4.0, high.start[1] - (high.start[0] - 4.0) * sin / cos))


def test_how_tight_a_curve_a_cutter_follows() -> None:
    """A cutter of 80 mm in a core box 6 deep: its circle of 40 fits a hollow of R - 24, so R >= 64."""
    profile = cut_profile("a", BLANK, [])
    cuts = [
        Cut(CoreBox(10.0, 6.0), Place("face", "foot", 40.0), diameter=80.0),
        Cut(CoreBox(10.0, 6.0), Place("face", "foot", 70.0)),  # no diameter: not known
        Cut(Straight(6.0, 8.0), Place("top", "back", 12.0)),  # its own groove is 9 to 15 out: 9 + 3
        Cut(CoreBox(8.0, 6.0), Place("back", "foot", 40.0), diameter=80.0),  # round outward: no limit
        Cut(Chamfer(3.0), Place("face", "foot"), diameter=4.0),  # 27 + 2 is less than the face's own 30
    ]
    profile = cut_profile("a", BLANK, cuts)
    reports = report_cuts(profile, BLANK, cuts)
    assert [report.lining for report in reports] == [
        pytest.approx(64.0),
        None,
        pytest.approx(12.0 + 3.0),
        None,
        pytest.approx(30.0),
    ]
    assert [report.turned for report in reports] == pytest.approx([30.0, 30.0, 15.0, 6.0, 30.0])


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 12), st.floats(15.0, 60.0), st.floats(1.0, 200.0))
def test_the_cutter_circle_fits_the_curve_at_every_height(depth: int, radius: float, more: float) -> None:
    """Round a curve of the radius told, the cutter's circle at each height stays in the finished hollow."""
    cut = Cut(CoreBox(14.0, float(depth)), Place("face", "foot", 50.0), diameter=2 * radius)
    profile = cut_profile("a", BLANK, [cut])
    (report,) = report_cuts(profile, BLANK, [cut])
    assert report.lining is not None
    outline = flatten(profile, 0.01).points
    deepest = 30.0 - depth
    d = outline[(outline[:, 0] > deepest - 1e-9) & (outline[:, 1] > 30) & (outline[:, 1] < 70), 0]
    circle = radius - (d - deepest)  # of the cutter, where the wood is d out
    d, circle = d[circle > 0], circle[circle > 0]

    def fits(back: float) -> bool:
        spindle = back - deepest - radius  # from the curve's axis
        return bool(
            spindle >= -1e-9 and (spindle + circle <= back - d + 1e-9).all() and (circle <= back - d + 1e-9).all()
        )

    assert fits(report.lining)
    assert fits(report.lining + more)
    if report.lining > 30.0 + 1e-6:
        assert not fits(report.lining - 0.01)


# Thin webs.


def web_of(*cuts: Cut, limit: float = 6.0) -> list[tuple[float, tuple[float, float]]]:
    return [(web.thickness, web.at) for web in thin_webs(cut_profile("a", BLANK, cuts), limit)]


def test_web_between_two_core_boxes() -> None:
    """Face to face: 30 less both depths. Aslant: the distance of the centers less both radii."""
    opposite = web_of(
        Cut(CoreBox(14.0, 14.0), Place("face", "foot", 50.0)), Cut(CoreBox(14.0, 14.0), Place("back", "foot", 50.0))
    )
    assert opposite == [(pytest.approx(2.0), pytest.approx((15.0, 50.0)))]
    aslant = web_of(
        Cut(CoreBox(14.0, 14.0), Place("face", "foot", 50.0)), Cut(CoreBox(14.0, 14.0), Place("back", "foot", 60.0))
    )
    assert aslant == [(pytest.approx(math.hypot(30, 10) - 28), pytest.approx((15.0, 55.0)))]


def test_web_under_a_v() -> None:
    assert web_of(Cut(Vee(PI / 2, 27.0), Place("face", "foot", 50.0))) == [
        (pytest.approx(3.0), pytest.approx((1.5, 50)))
    ]


def test_web_between_two_grooves_is_told_once_half_way() -> None:
    """A fin 3 thick between grooves 10 and 6 deep: they run side by side for 6, from the face down."""
    found = web_of(
        Cut(Straight(7.0, 10.0), Place("face", "foot", 40.0)), Cut(Straight(7.0, 6.0), Place("face", "foot", 50.0))
    )
    assert found == [(pytest.approx(3.0), pytest.approx((27.0, 45.0)))]


def test_web_of_a_thin_shell() -> None:
    """A roundover of 20 over a hollow of 17 about the same center leaves 3 all round, and 3 under the top."""
    cuts = [Cut(Roundover(20.0), Place("face", "top")), Cut(Drawn(_ball(17.0), 27.0), Place("back", "foot", 80.0))]
    profile = cut_profile("a", Blank(100.0, 30.0), cuts)
    round_it, level = sorted(thin_webs(profile, 3.5), key=lambda web: -web.at[0])
    assert (round_it.thickness, level.thickness) == (pytest.approx(3.0), pytest.approx(3.0))
    assert math.dist(round_it.at, (10.0, 80.0)) == pytest.approx(18.5)
    assert level.at == pytest.approx((5.0, 98.5), abs=0.5)


def _ball(r: float) -> Profile:
    return sketch("ball", 1e-3, [Shape("ovolo", rise=r, out=r - 1e-3, radius=r), Shape("fillet", rise=1.0)])


def test_thin_stock_is_a_web_and_thick_is_none() -> None:
    assert [web.thickness for web in thin_webs(cut_profile("a", Blank(100.0, 3.0), []))] == [3.0]
    assert thin_webs(cut_profile("a", BLANK, [])) == ()
    assert thin_webs(cut_profile("a", BLANK, [Cut(Vee(PI / 2, 10.0), Place("face", "foot", 50.0))])) == ()


def test_the_cut_beside_a_web_tells_of_it() -> None:
    cuts = [Cut(CoreBox(14.0, 28.0), Place("face", "foot", 50.0)), Cut(Cove(5.0), Place("face", "top"))]
    deep, cove = report_cuts(cut_profile("a", BLANK, cuts), BLANK, cuts)
    assert [web.thickness for web in deep.webs] == [pytest.approx(2.0)]
    assert cove.webs == ()


@settings(max_examples=40, deadline=None)
@given(st.floats(6.0, 14.0), st.floats(6.0, 14.0), st.floats(30.0, 70.0), st.floats(30.0, 70.0))
def test_the_thinnest_web_against_a_fine_search(a: float, b: float, up: float, back_up: float) -> None:
    """The least distance between points 0.05 apart of a hollow in the face and one in the back."""
    front, rear = (
        Cut(CoreBox(15.0, a), Place("face", "foot", up)),
        Cut(CoreBox(15.0, b), Place("back", "foot", back_up)),
    )
    profile = cut_profile("a", BLANK, [front, rear])
    arcs = [edge for edge in profile.edges if isinstance(edge, Arc)]
    points = [arc.point(np.linspace(0, 1, 1 + math.ceil(arc.length / 0.05))) for arc in arcs]
    least = np.hypot(*(points[0][:, None, :] - points[1][None, :, :]).reshape(-1, 2).T).min()
    assume(least < 24)
    webs = [web for web in thin_webs(profile, 25.0) if not {web.start[0], web.end[0]} & {0.0, 30.0}]
    assert [web.thickness for web in webs] == [pytest.approx(least, abs=0.01)]
