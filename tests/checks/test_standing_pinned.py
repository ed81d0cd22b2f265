"""How ends stand: a square end on a box, a body near an end, the direction of a cut, an end face."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from preview.checks import Body
from preview.checks.contact import against, coped, nearest, standing_near
from preview.checks.continuity import Meeting, Rim, outward, rim
from preview.checks.place import in_plan, laid
from preview.checks.standing import JointPair, joint_findings
from preview.checks.surface import Surface, surface
from preview.joinery import Joint, Piece, join
from preview.runs import Corner, Curve, Easement, Run, Stand, Step, Straight, Way, lay_out
from samples import block
from samples import meeting as corner_of
from test_joint_faults import STRIP, Model, alone
from test_many_bodies import box

Array = np.ndarray
STAND = Stand((500.0, -20.0, 300.0), (0.0, 0.6, 0.8), (0.0, -0.8, 0.6), (1.0, 0.0, 0.0))


def skin(at: tuple[float, float, float], size: tuple[float, float, float]) -> Surface:
    return surface(box(at, size))


def rail(stand: Stand | None = None, **more: object) -> tuple[Piece, Joint]:
    """A strip of 20 x 40 along x to 300 mm, and its end."""
    run = lay_out("wall", [Straight(300.0)])
    line = join(run if stand is None else replace(run, stand=stand), "base", STRIP)
    return line.pieces[0], line.joints[1]


def square_rim(at: float) -> Rim:
    profile = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 40.0), (0.0, 40.0)])
    starts = np.column_stack([np.full(4, at), profile])
    return Rim(starts, np.roll(starts, -1, axis=0), profile)


# A square end against another body.


@pytest.mark.parametrize("apart", [0.0, 0.25, -0.5])
def test_a_square_end_stands_off_a_box_or_in_it(apart: float) -> None:
    piece, joint = rail()
    found = against(joint, piece, square_rim(300.0), skin((300.0 + apart, -50.0, -50.0), (80.0, 200.0, 200.0)))
    assert found.gap == pytest.approx(abs(apart), abs=1e-9)
    assert found.step == pytest.approx(0.0, abs=1e-9)
    assert (found.angle, found.missing) == (None, "")


@pytest.mark.parametrize(("wide", "out", "said"), [(18.5, 1.5, True), (19.0, 1.0, False), (20.0, 0.0, False)])
def test_an_end_may_stand_out_beyond_what_it_butts_against(wide: float, out: float, said: bool) -> None:
    piece, joint = rail()
    found = against(joint, piece, square_rim(300.0), skin((300.0, -50.0, -50.0), (80.0, 50.0 + wide, 200.0)))
    assert (found.gap, found.step) == pytest.approx((0.0, out), abs=1e-9)
    assert found.missing == ("the end stands out beyond what it butts against" if said else "")
    assert found.step_at is not None
    if out:
        assert found.step_at[0] == 20.0


def test_where_an_end_gapes_and_stands_out_most() -> None:
    """A box that leans away with the height: at the top of the rim the gap is 1 mm, and 2 mm of its foot stand out."""
    piece, joint = rail()
    leaning = box((300.0, -50.0, 2.0), (80.0, 200.0, 90.0))
    moved = leaning.vertices.copy()
    moved[:, 0] += (moved[:, 2] - 2.0) * 0.1
    found = against(joint, piece, square_rim(300.0), surface(replace(leaning, vertices=moved)))
    assert found.gap_at is not None
    assert found.gap_at[1] == 40.0
    # The foot of the plumb onto a face that leans by 1 in 10: 3.8 / 1.01 along, a tenth of that up.
    assert found.gap == pytest.approx(3.8 / 1.01, rel=1e-9)
    assert found.step == pytest.approx(2.0, rel=1e-9)
    assert found.step_at is not None
    assert found.step_at[1] == 0.0


def test_an_end_on_a_wall_that_stands_elsewhere() -> None:
    """The travel x is the scene's (0, 0.6, 0.8), out of the wall its (1, 0, 0)."""
    piece, joint = rail(STAND)
    reach = np.array((500.0, -20.0, 300.0)) + 300.5 * np.array((0.0, 0.6, 0.8))
    low = box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))
    frame = np.array([STAND.x, STAND.y, STAND.z])
    corners = ((low.vertices - 0.5) * np.array((80.0, 400.0, 400.0)) + np.array((40.0, 0.0, 0.0))) @ frame + reach
    found = against(joint, piece, square_rim(300.0), surface(replace(low, vertices=corners)))
    assert (found.gap, found.step) == pytest.approx((0.5, 0.0), abs=1e-9)


def test_an_end_that_meets_nothing() -> None:
    piece, joint = rail()
    nowhere = against(joint, piece, square_rim(300.0), None)
    assert (nowhere.gap, nowhere.step, nowhere.angle) == (math.inf, math.inf, None)
    assert nowhere.missing == "nothing stands there"
    assert against(joint, piece, None, None).missing == "no end face was found"
    none = against(joint, piece, None, skin((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)))
    assert (none.gap, none.missing) == (math.inf, "no end face was found")


# What stands near an end.


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(("apart", "near"), [(4.75, True), (5.0, False), (5.25, False)])
def test_a_body_within_5_mm_of_an_end_stands_near(axis: int, side: int, apart: float, near: bool) -> None:
    """All of a face that is held flat against the box, on each side of it."""
    piece, _ = rail()
    starts = np.zeros((4, 3))
    starts[:, [(axis + 1) % 3, (axis + 2) % 3]] = np.array([(-8.0, -8.0), (8.0, -8.0), (8.0, 8.0), (-8.0, 8.0)])
    end = Rim(starts, np.roll(starts, -1, axis=0), starts[:, :2])
    low = np.full(3, -50.0)
    low[axis] = apart if side > 0 else -apart - 100.0
    near_box = skin((float(low[0]), float(low[1]), float(low[2])), (100.0, 100.0, 100.0))
    assert standing_near(end, piece, [(7, near_box)]) == (7 if near else None)


def test_of_bodies_near_an_end_the_nearest_is_taken() -> None:
    piece, _ = rail()
    boxes = [
        (3, skin((303.0, -50.0, -50.0), (9.0, 200.0, 200.0))),
        (5, skin((301.0, -50.0, -50.0), (9.0, 200.0, 200.0))),
        (6, skin((301.0, -50.0, -50.0), (9.0, 200.0, 200.0))),
        (8, skin((304.0, -50.0, -50.0), (9.0, 200.0, 200.0))),
    ]
    assert standing_near(square_rim(300.0), piece, boxes) == 5
    assert standing_near(square_rim(300.0), piece, boxes[2:] + boxes[:2]) == 6
    assert standing_near(square_rim(300.0), piece, []) is None
    # On the whole it must come within 5 mm: 4 mm off one edge of the rim is not near the other.
    beside = skin((304.0, -50.0, -50.0), (9.0, 50.0, 200.0))
    assert standing_near(square_rim(300.0), piece, [(1, beside)]) is None


@pytest.mark.parametrize("axis", [1, 2])
@pytest.mark.parametrize("side", [1, -1])
def test_a_body_near_half_of_an_end_may_stand_near(axis: int, side: int) -> None:
    """1 mm off two of the corners of a rim 16 mm wide, 8 mm aside of the others: (1 + sqrt(65)) / 2 mm on the whole."""
    piece, _ = rail()
    starts = np.array([(0.0, -8.0, -8.0), (0.0, 8.0, -8.0), (0.0, 8.0, 8.0), (0.0, -8.0, 8.0)])
    end = Rim(starts, np.roll(starts, -1, axis=0), starts[:, 1:])
    low = np.array((1.0, -50.0, -50.0))
    low[axis] = 0.0 if side > 0 else -100.0
    assert standing_near(end, piece, [(2, skin(tuple(low.tolist()), (100.0, 100.0, 100.0)))]) == 2
    low[0] = 3.0  # (3 + sqrt(73)) / 2
    assert standing_near(end, piece, [(2, skin(tuple(low.tolist()), (100.0, 100.0, 100.0)))]) is None


def test_the_nearest_point_is_found_however_far_the_body_is() -> None:
    """Within 5 mm of the points' box only what comes near is held against them, else all of it."""
    near = skin((0.0, 0.0, 0.0), (10.0, 10.0, 10.0))
    points = np.array([(14.0, 5.0, 5.0), (12.0, -3.0, 14.0)])
    assert nearest(points, near) == pytest.approx(np.array([(10.0, 5.0, 5.0), (10.0, 0.0, 10.0)]))
    assert nearest(points + 500.0, near) == pytest.approx(np.full((2, 3), 10.0))
    # A row of boxes: only the last is near, and each point finds its own.
    row = [box((100.0 * i, 0.0, 0.0), (10.0, 10.0, 10.0)) for i in range(4)]
    joined = Body(
        "row",
        (),
        np.concatenate([each.vertices for each in row]),
        np.concatenate([each.triangles + 8 * i for i, each in enumerate(row)]),
        None,
        0.0,
    )
    along = np.array([(100.0 * i + 5.0, 5.0, 11.0) for i in range(4)])
    assert nearest(along, surface(joined)) == pytest.approx(along - np.array((0.0, 0.0, 1.0)), abs=1e-9)
    far = np.array([(300.0 + i / 30, 5.0, 11.0) for i in range(300)])
    assert nearest(far, surface(joined)) == pytest.approx(far - np.array((0.0, 0.0, 1.0)), abs=1e-9)


# Copes.


@pytest.mark.parametrize("off", [0.0, 0.75, -0.25])
def test_a_cope_stands_off_the_face_it_follows(off: float) -> None:
    """A strip that butts square against another; points within 1 mm of where the cope should be are taken for it."""
    run = lay_out("hall", [Straight(400.0), Corner(math.pi / 2, Way("cope")), Straight(300.0)])
    piece = join(run, "base", STRIP).pieces[1]
    # Along y from the face of the other at y = 20; the room on its left, toward -x.
    mine = skin((380.0, 20.0 + off, 0.0), (20.0, 280.0 - off, 40.0))
    other = skin((0.0, 0.0, -50.0), (400.0, 20.0, 140.0))
    found = coped(piece, False, mine, other, 1e-6)
    assert found.gap == pytest.approx(abs(off), abs=1e-9)
    assert (found.step, found.angle, found.missing) == (None, None, "")
    assert found.gap_at is not None
    assert found.gap_at[0] == pytest.approx(0.0, abs=1e-9) or found.gap_at[0] == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("off", "rounding", "told"),
    [(0.75, 0.0, True), (1.0, 0.0, False), (1.25, 0.0, False), (1.25, 0.5, True), (1.0, 0.25, True), (1.5, 0.5, False)],
)
def test_what_counts_for_a_cope_lies_within_1_mm_and_the_rounding(off: float, rounding: float, told: bool) -> None:
    run = lay_out("hall", [Straight(400.0), Corner(math.pi / 2, Way("cope")), Straight(300.0)])
    piece = join(run, "base", STRIP).pieces[1]
    mine = skin((380.0, 20.0 + off, 0.0), (20.0, 280.0 - off, 40.0))
    # Where nothing of the body lies on the wall beside the strip either.
    corners = mine.points + np.array((0.0, 0.0, 0.0))
    found = coped(piece, False, replace(mine, points=corners), skin((0.0, 0.0, 0.0), (400.0, 20.0, 40.0)), rounding)
    assert found.missing == ("" if told else "no coped face was found")
    assert found.gap == (pytest.approx(off) if told else math.inf)


def test_a_cope_is_measured_by_its_gap_alone() -> None:
    """Pulled from the face that it follows by 0.05 mm; a cope has no rim in common with it."""
    run = lay_out("hall", [Straight(400.0), Corner(math.pi / 2, Way("cope")), Straight(300.0)])
    model = alone(run, STRIP)
    found = model.inspect(
        {"2 straight": lambda body: replace(body, vertices=body.vertices + np.array((0.0, 0.05, 0.0)))}
    )
    measured = found.meetings[1]
    assert measured is not None
    assert measured.gap == pytest.approx(0.05)
    assert (measured.step, measured.angle) == (None, None)
    assert [each is None for each in found.rims[1]] == [False, True]


# Where a cut looks.

RUNS: dict[str, Run] = {
    "corner": corner_of(Straight(300.0), 1.1, Straight(200.0)),
    "outside": corner_of(Straight(300.0), -0.7, Straight(200.0)),
    "right": corner_of(Straight(300.0), 1.1, Straight(200.0), "right"),
    "bent": corner_of(Straight(300.0), -1.0, Curve(-1.2, 90.0)),
    "bent right": corner_of(Curve(-1.2, 90.0), 0.6, Straight(300.0), "right"),
    "two curves": corner_of(Curve(-1.2, 90.0), -0.6, Curve(1.0, 150.0)),
    "climb": lay_out("stair", [Straight(300.0), Straight(200.0, 0.5)], room="right"),
    "climbs": lay_out("stair", [Straight(300.0, -0.3), Corner(0.8), Straight(200.0, 0.5)]),
    "square to the rake": replace(lay_out("stair", [Straight(300.0), Straight(200.0, 0.5)]), raked="same"),
    "eased": lay_out("stair", [Straight(300.0), Easement(400.0), Straight(300.0, 0.6)]),
    "rake alone": replace(lay_out("stair", [Straight(300.0, 0.5)], room="right"), raked="same"),
}


@pytest.mark.parametrize("name", RUNS)
def test_a_cut_looks_square_to_its_surface_along_the_travel(name: str) -> None:
    """Square to where the ring goes for a little more out and a little more up, at every place on it."""
    line = join(RUNS[name], "base", block(20.0, 40.0))
    d, h = (each.ravel() for each in np.meshgrid(np.linspace(0.5, 20.0, 6), np.linspace(0.0, 40.0, 5)))
    for joint in line.joints:
        here = joint.ring(d, h)
        looks = outward(joint, here)
        assert np.linalg.norm(looks, axis=1) == pytest.approx(np.ones(len(d)), abs=1e-12)
        out = (joint.ring(d + 1e-4, h) - joint.ring(d - 1e-4, h)) / 2e-4
        up = (joint.ring(d, h + 1.0) - joint.ring(d, h - 1.0)) / 2
        assert np.einsum("ij,ij->i", looks, out) == pytest.approx(np.zeros(len(d)), abs=1e-6)
        assert np.einsum("ij,ij->i", looks, up) == pytest.approx(np.zeros(len(d)), abs=1e-9)
        ahead = np.array([*joint.before.tangent, 0.0]) + np.array([*joint.after.tangent, 0.0])
        assert (looks @ ahead > 0.2).all()


# The end face of a body.


def shifted_end(body: Body, by: float, tilt: float = 0.0, far: bool = True) -> Body:
    """A body with all its points beyond (or before) the middle moved along x, and their normals turned about z."""
    there = (body.vertices[:, 0] > 150.0) == far
    vertices = body.vertices + there[:, None] * np.array((by, 0.0, 0.0))
    cos, sin = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
    turn = np.array([(cos, sin, 0.0), (-sin, cos, 0.0), (0.0, 0.0, 1.0)])
    assert body.normals is not None
    return replace(body, vertices=vertices, normals=body.normals @ turn)


@pytest.fixture(scope="module")
def wall() -> tuple[Model, Joint, Joint]:
    run = lay_out("wall", [Straight(300.0)])
    model = alone(run, STRIP)
    return model, model.pairs[0].joint, model.pairs[1].joint


def seen(piece: Piece, body: Body, joint: Joint, ends: bool) -> Rim | None:
    found = surface(body)
    return rim(body, found, laid(piece, found.points), piece, joint, ends)


@pytest.mark.parametrize("far", [True, False])
@pytest.mark.parametrize(
    ("by", "tilt", "found"),
    [
        (0.0, 0.0, True),
        (4.75, 0.0, True),
        (-4.75, 0.0, True),
        (5.0, 0.0, False),
        (-5.25, 0.0, False),
        (0.0, 4.99, True),
        (0.0, -4.99, True),
        (0.0, 5.01, False),
    ],
)
def test_an_end_face_lies_within_5_mm_and_5_degrees(
    wall: tuple[Model, Joint, Joint], by: float, tilt: float, found: bool, far: bool
) -> None:
    model, begin, end = wall
    (piece,), (body,) = model.pieces, model.bodies.values()
    face = seen(piece, shifted_end(body, by, tilt, far), end if far else begin, far)
    assert (face is not None) is found
    if face is not None:
        at = 300.0 if far else 0.0
        assert face.starts[:, 0] == pytest.approx(np.full(4, at + by))
        corners = {(0.0, 0.0), (20.0, 0.0), (20.0, 40.0), (0.0, 40.0)}
        assert {(float(d), float(h)) for d, h in face.profile} == corners
        # The wood lies on the left of its rim, seen from outside.
        assert np.cross(face.starts, face.stops).sum(axis=0)[0] / 2 == pytest.approx(800.0 if far else -800.0)
        sides = np.linalg.norm(face.stops - face.starts, axis=1)
        assert sorted(sides.tolist()) == [20.0, 20.0, 40.0, 40.0]


def test_a_body_that_does_not_say_where_it_looks_shows_no_end_face(wall: tuple[Model, Joint, Joint]) -> None:
    model, _, end = wall
    (piece,), (body,) = model.pieces, model.bodies.values()
    assert seen(piece, replace(body, normals=None), end, True) is None
    # Nor does one whose faces look inward.
    assert body.normals is not None
    assert seen(piece, replace(body, normals=-body.normals), end, True) is None


@pytest.mark.parametrize(("turned", "found"), [(0.19, True), (0.21, False), (-0.19, True), (-0.21, False)])
def test_an_end_face_lies_within_a_fifth_of_a_radian_round_a_curve(turned: float, found: bool) -> None:
    """On a circle of 12 mm, where 5 mm are twice as far: the body turned about its center."""
    model = alone(lay_out("post", [Curve(-1.4, 12.0)]), STRIP)
    (piece,), (body,) = model.pieces, model.bodies.values()
    center = np.array((*piece.element.center, 0.0))
    cos, sin = math.cos(turned), math.sin(turned)
    turn = np.array([(cos, sin, 0.0), (-sin, cos, 0.0), (0.0, 0.0, 1.0)])
    # Its normals stay as they were, so that only the place is off.
    moved = replace(body, vertices=(body.vertices - center) @ turn + center)
    assert (seen(piece, moved, model.pairs[1].joint, True) is not None) is found


def test_the_end_face_of_a_body_on_a_wall() -> None:
    """Normals are turned with the run, and not moved with it."""
    model = alone(replace(lay_out("wall", [Straight(300.0)]), stand=STAND), STRIP)
    (piece,), (body,) = model.pieces, model.bodies.values()
    face = seen(piece, body, model.pairs[1].joint, True)
    assert face is not None
    assert face.starts[:, 0] == pytest.approx(np.full(4, 300.0))
    assert sorted(np.linalg.norm(face.stops - face.starts, axis=1).tolist()) == pytest.approx([20, 20, 40, 40])
    assert in_plan(piece, body.vertices)[:, 0].max() == pytest.approx(300.0)


# What is asked of a joint.


@pytest.mark.parametrize("rounding", [0.0, 0.125])
def test_the_limits_of_a_joint(rounding: float) -> None:
    _, end = rail()
    every = joint_findings(end, Meeting(0.1, 0.2, 0.3, (1, 2), (3, 4), (5, 6), "so"), rounding)
    assert [(f.check.code, f.figure, f.limit, f.where, f.detail) for f in every] == [
        ("gap", 0.1, 0.002 + rounding, (1, 2), "so"),
        ("step", 0.2, 0.002 + rounding, (3, 4), "so"),
        ("angle", 0.3, 0.5, (5, 6), "so"),
    ]
    assert {f.subject for f in every} == {end.name}
    assert [f.check.code for f in joint_findings(end, Meeting(0.1, None, None), rounding)] == ["gap"]
    assert [f.check.code for f in joint_findings(end, Meeting(0.1, 0.2, None), rounding)] == ["gap", "step"]


def faults(steps: Sequence[Step], moved: dict[str, Array]) -> set[str]:
    """What fails of a run with some of its bodies moved."""
    line = join(lay_out("wall", list(steps)), "base", STRIP)
    model = Model([line], [JointPair(j, *b) for j, b in zip(line.joints, line.between, strict=True)])

    def by(move: Array) -> object:
        return lambda body: replace(body, vertices=body.vertices + move)

    found = model.inspect({name: by(move) for name, move in moved.items()})  # type: ignore[misc]
    return {f"{f.check.code} {f.subject.rsplit(' / ', 1)[-1]}" for f in found.findings if not f.holds}


@pytest.mark.parametrize(("off", "told"), [(0.00199, False), (0.00201, True)])
def test_a_joint_may_gape_by_a_five_hundredth_of_a_mm(off: float, told: bool) -> None:
    failed = faults([Straight(300.0), Straight(200.0, 0.0)], {"2 straight": np.array((off, 0.0, 0.0))})
    assert any(each.startswith("gap") for each in failed) is told
