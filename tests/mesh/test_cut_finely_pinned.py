"""Steps on curves that run on past their corners, the coarsest and the finest meshes, levels by the cut's own bend.

Beside a corner a line of the molding d out from the wall stops where its circle meets the neighbor's line or circle of
the same d; both are written here in plan, with the corner at 0 and the neighbor's travel along +x.
"""

from __future__ import annotations

import cmath
import math
from itertools import pairwise

import numpy as np
import pytest

from preview.errors import PreviewError
from preview.joinery import MemberRun, join
from preview.models.mesh import make_face, mesh_member_run, mesh_runs
from preview.models.mesh.steps import levels_needed, spans_needed
from preview.profiles import Line, make_profile, measure
from preview.runs import Corner, Curve, Easement, Side, Straight, Way, lay_out
from samples import BASE, RIGHT_ANGLE, block, meeting, quarter_round

ROOMS: tuple[Side, Side] = ("left", "right")
Bow = tuple[int, float]
"""A curve: +1 where it lines the room's side, -1 where it wraps, 0 for a straight; and its radius."""


def crossing(turn: float, beside: Bow, bow: Bow, d: float) -> complex:
    """Where the lines d out from both walls meet, near the corner; `turn` is + toward the room."""
    (t0, r0), (t, r) = beside, bow
    center = 1j * t * r * cmath.exp(1j * turn)
    on = r - t * d
    if not t0:
        aside = math.sqrt(on**2 - (d - center.imag) ** 2)
        return min((center.real + sign * aside + 1j * d for sign in (1, -1)), key=lambda p: abs(p - 1j * d))
    other, beyond = 1j * t0 * r0, r0 - t0 * d
    away = center - other
    far = abs(away)
    along = (beyond**2 - on**2 + far**2) / 2 / far
    across = 1j * math.sqrt(beyond**2 - along**2)
    return min((other + away / far * (along + s * across) for s in (1, -1)), key=lambda p: abs(p - 1j * d))


def gain(turn: float, beside: Bow, bow: Bow, d: float) -> float:
    """By what angle a line of the curve runs on past the corner, radians; - where it stops short of it."""
    center = 1j * bow[0] * bow[1] * cmath.exp(1j * turn)
    return -bow[0] * cmath.phase((crossing(turn, beside, bow, d) - center) / -center)


def element(bow: Bow, sweep: float, hand: int) -> Straight | Curve:
    return Curve(hand * bow[0] * sweep, bow[1]) if bow[0] else Straight(400.0)


LONGEST = [
    (0, (0, 0.0), 0.5, (1, 90.0), 0.7, (0, 0.0)),  # two inside corners: on the wall
    (0, (0, 0.0), 0.4, (-1, 60.0), 0.6, (0, 0.0)),
    (2, (0, 0.0), -0.9, (-1, 60.0), -0.4, (0, 0.0)),  # two outside corners: out in the room
    (2, (0, 0.0), -0.2, (1, 150.0), -0.3, (0, 0.0)),
    (2, (0, 0.0), 0.3, (-1, 60.0), -0.8, (0, 0.0)),
    (1, (1, 50.0), 0.8, (1, 60.0), -1.2, (-1, 50.0)),  # what one corner takes late the other gives early
    (1, (1, 50.0), -1.2, (1, 60.0), 0.8, (-1, 50.0)),
]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("longest", "first", "begins", "bow", "ends", "last"), LONGEST)
def test_a_curve_between_corners_takes_as_many_steps_as_its_longest_line_needs(
    room: Side, longest: int, first: Bow, begins: float, bow: Bow, ends: float, last: Bow
) -> None:
    """On the wall, in the middle of the molding, or out in the room; other corners of the run may be plain."""
    hand, sweep, chord = (1 if room == "left" else -1), 1.2, 1e-4
    if longest == 1 and begins < 0:
        first, last = last, first
    steps = [
        Straight(300.0),
        Corner(hand * RIGHT_ANGLE),
        element(first, 0.9, hand),
        Corner(hand * begins),
        element(bow, sweep, hand),
        Corner(hand * ends),
        element(last, 0.9, hand),
    ]
    if first[0]:
        steps[:2] = []
    # An end is a corner seen the other way round.
    walked = [sweep + gain(begins, first, bow, d) + gain(ends, last, bow, d) for d in (0.0, 15.0, 30.0)]
    assert int(np.argmax(walked)) == longest
    step = 2 * math.acos(1 - 0.3 * chord / (bow[1] + (30.0 if bow[0] < 0 else 0.0)))
    assert walked[longest] > max(w for i, w in enumerate(walked) if i != longest) + 2 * step
    line = join(lay_out("bow", steps, room=room), "rail", block(30.0))
    number = 1 if first[0] else 2
    assert line.pieces[number].element.radius == bow[1]
    assert spans_needed(line, chord)[number] == math.ceil(walked[longest] / step)


def bowed(sweep: float, radius: float = 40.0) -> MemberRun:
    return join(lay_out("bow", [Straight(50.0), Curve(sweep, radius), Straight(50.0)]), "rail", block(12.0))


@pytest.mark.parametrize("count", [2, 3])
def test_no_step_of_a_curve_strays_by_more_than_three_tenths_of_its_radius(count: int) -> None:
    """However coarse the mesh: such a step turns by 2 acos(0.7), 91 degrees."""
    step = 2 * math.acos(0.7)
    for sweep, spans in ((count * step * (1 - 2e-4), count), (count * step * (1 + 2e-4), count + 1)):
        line = join(lay_out("bow", [Curve(-sweep, 40.0)]), "rail", block(12.0))
        assert spans_needed(line, 1e4).tolist() == [spans]


@pytest.mark.parametrize("much", [1 - 1e-4, 1 + 1e-4])
def test_nor_of_an_easement(much: float) -> None:
    """From a slope down to the same slope up it is 2 radius sin(pitch) long in plan, and its steep ends decide."""
    slope = much * 2 * math.acos(0.7)
    run = lay_out("stair", [Straight(90.0, -slope), Easement(20.0), Straight(90.0, slope)])
    assert spans_needed(join(run, "rail", block(2.0, 3.0)), 1e4).tolist() == [1, 2 if much < 1 else 3, 1]


@pytest.mark.parametrize("count", [4, 7, 64])
def test_a_whole_number_of_steps_is_not_one_more_for_rounding(count: int) -> None:
    step = 2 * math.acos(1 - 0.3 * 0.05 / 40.0)
    assert spans_needed(bowed(count * step), 0.05)[1] == count
    # On an easement from level the steep end decides: n steps of sin(pitch)/n, each over cos(pitch).
    step = 2 * math.acos(1 - 0.3 * 0.05 / 300.0)
    run = lay_out("stair", [Straight(700.0), Easement(300.0), Straight(700.0, count * step)])
    assert spans_needed(join(run, "rail", block(12.0)), 0.05)[1] == count


def test_a_mesh_keeps_to_a_twentieth_of_a_millimeter_unless_told_otherwise() -> None:
    for much, spans in ((1 - 2e-4, 12), (1 + 2e-4, 13)):
        line = bowed(12 * much * 2 * math.acos(1 - 0.3 * 0.05 / 40.0))
        assert mesh_runs([line])[1].shape.spans == spans
        assert mesh_member_run(line)[1].shape.spans == spans


# Levels.


def slabs_to(turn: float, bow: Bow, d: np.ndarray, chord: float) -> np.ndarray:
    """How many slabs fit between the first of many projections and each, beside a straight.

    The bend is what the cut turns, twice, or what the stations on the curve change, which acts on the curve's own
    radius there and has a twentieth of the chord: a slab may be (8 chord / bend)^1/2 wide.
    """
    t, r = bow
    center = 1j * t * r * cmath.exp(1j * turn)
    on = r - t * d
    root = np.sqrt(on**2 - (d - center.imag) ** 2)
    near = np.abs(center.real - root) < np.abs(center.real + root)
    points = center.real + np.where(near, -root, root) + 1j * d
    steep = np.gradient(points, d, edge_order=2)
    speed = np.abs(steep)
    turning = np.abs(np.gradient(np.unwrap(np.angle(steep)), d, edge_order=2))
    bend = np.maximum(2 * turning * speed, (speed**2 - 1) / on / 0.05)
    width = np.sqrt(bend / (8 * chord))
    found: np.ndarray = np.concatenate([[0.0], np.cumsum((width[1:] + width[:-1]) / 2 * np.diff(d))])
    return found


def beside(room: Side, turn: float, bow: Bow, out: tuple[float, float], *, last: bool = True) -> MemberRun:
    steps = (Straight(400.0), turn, Curve(bow[0] * 1.2, bow[1]))
    profile = block(out[1] - out[0], 20.0).moved(out[0], 0.0)
    return join(meeting(*(steps if last else steps[::-1]), room), "rail", profile)  # type: ignore[arg-type]


@pytest.mark.parametrize(("room", "last"), [("left", True), ("right", False)])
@pytest.mark.parametrize(
    ("turn", "bow", "out"),
    [
        (0.5, (1, 60.0), (0.0, 38.0)),
        (-0.4, (1, 60.0), (8.0, 30.0)),
        (0.6, (-1, 60.0), (15.0, 40.0)),
        (-0.7, (-1, 60.0), (-9.0, 25.0)),
    ],
)
def test_thousands_of_levels_lie_where_the_cut_bends(
    room: Side, last: bool, turn: float, bow: Bow, out: tuple[float, float]
) -> None:
    """Members that stand off the wall or go behind it; the curve before the corner or after."""
    d = np.linspace(*out, 60_001)
    chord = 1e-6
    chord *= (float(slabs_to(turn, bow, d, chord)[-1]) / 2499.6) ** 2
    slabs = slabs_to(turn, bow, d, chord)
    assert slabs[-1] == pytest.approx(2499.6)
    line = beside(room, turn, bow, out, last=last)
    levels = levels_needed(line, chord, measure(line.profile))
    assert len(levels) == 2499
    # Each slab takes an equal share of the bend.
    assert np.interp(levels, d, slabs / slabs[-1] * 2500) == pytest.approx(np.arange(1, 2500), abs=0.05)


def test_four_thousand_slabs_are_the_most() -> None:
    line = beside("left", 0.5, (1, 60.0), (0.0, 38.0))
    size = measure(line.profile)
    assert len(levels_needed(line, 1e-9, size)) == 3999
    assert levels_needed(line, 1e4, size) == ()


def test_levels_settle_on_the_corners_of_the_section() -> None:
    """A rabbet's corner just beside one, by its projection and not by its height."""
    line = beside("left", 0.5, (1, 60.0), (0.0, 38.0))
    levels = levels_needed(line, 0.02, measure(line.profile))
    assert len(levels) > 7
    wide = min(b - a for a, b in pairwise([0.0, *levels, 38.0]))
    at, height = levels[3] + 0.05 * wide, levels[5] + 0.05 * wide
    corners = [(0.0, 0.0), (38.0, 0.0), (38.0, height), (at, height), (at, 45.0), (0.0, 45.0)]
    profile = make_profile("stepped", [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])
    steps = (Straight(400.0), 0.5, Curve(1.2, 60.0))
    stepped = join(meeting(*steps), "rail", profile)
    assert levels_needed(stepped, 0.02, measure(profile)) == (*levels[:3], at, *levels[4:])


# Meshes of whole runs.


@pytest.mark.parametrize("room", ROOMS)
def test_more_steps_may_be_asked_for(room: Side) -> None:
    """As members of one run ask it of each other; a straight may take more as well, evenly along it."""
    line = join(lay_out("bow", [Straight(60.0), Curve(0.3, 90.0)], room=room), "rail", block(12.0))
    for wanted in ([1, 40], [3, 40], [2, 1]):
        made = mesh_member_run(line, 0.05, np.array(wanted))
        assert [mesh.shape.spans for mesh in made] == wanted
        along = made[0].points.reshape(wanted[0] + 1, -1, 3)[:, :, 0]
        assert along == pytest.approx(np.tile(np.linspace(0.0, 60.0, wanted[0] + 1)[:, None], (1, 4)))


def test_members_of_one_run_take_the_same_steps() -> None:
    """The outer one's, as its circle is the wider; another run's are its own."""
    run = lay_out("bow", [Straight(60.0), Curve(-1.5, 30.0)])
    lines = [join(run, "inner", block(5.0)), join(run, "outer", block(25.0).moved(5.0, 0.0))]
    other = join(lay_out("other", [Straight(60.0), Curve(-1.5, 30.0)]), "inner", block(5.0))
    needed = [math.ceil(1.5 / (2 * math.acos(1 - 0.3 * 0.05 / r))) for r in (35.0, 60.0)]
    assert needed[0] < needed[1]
    spans = [mesh.shape.spans for mesh in mesh_runs([lines[0], other, lines[1]])]
    assert spans == [1, needed[1], 1, needed[0], 1, needed[1]]


def test_a_scene_has_its_limit_of_vertices(monkeypatch: pytest.MonkeyPatch) -> None:
    """A strip's straight has 8 corners, and 16 with their normals for each side; the limit itself may be reached."""
    run = lay_out("wall", [Straight(60.0)])
    lines = [join(run, f"rail {i}", block()) for i in range(3)]
    monkeypatch.setenv("MOLDING_LIMIT_VERTICES", "24")
    assert sum(len(mesh.points) for mesh in mesh_runs(lines)) == 24
    monkeypatch.setenv("MOLDING_LIMIT_VERTICES", "23")
    with pytest.raises(PreviewError, match=r"the scene's mesh has 24 vertices, and 23 is the most"):
        mesh_runs(lines)


def test_a_member_has_it_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before anything is made: rings of 8 columns, two on a straight, and four where a curve takes three steps."""
    line = join(lay_out("bow", [Straight(60.0), Curve(0.3, 90.0)]), "rail", block())
    spans = np.array([1, 3])
    monkeypatch.setenv("MOLDING_LIMIT_VERTICES", "48")
    assert len(mesh_member_run(line, 0.05, spans)) == 2
    monkeypatch.setenv("MOLDING_LIMIT_VERTICES", "47")
    with pytest.raises(PreviewError, match=r"the mesh of .* has 48 vertices, and 47 is the most"):
        mesh_member_run(line, 0.05, spans)


@pytest.mark.parametrize("at_once", [1, 17, 40])
def test_a_long_run_is_worked_out_in_parts(at_once: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A strip's straight has 16 vertices: one at a time, or two, and even where one is too many; all are there."""
    steps = [step for _ in range(3) for step in (Straight(60.0), Corner(-0.5), Curve(0.4, 90.0), Corner(0.6))]
    line = join(lay_out("wall", [*steps, Straight(60.0)]), "rail", block())
    whole = mesh_member_run(line)
    monkeypatch.setattr("preview.models.mesh.sweep.BLOCK", at_once)
    parts = mesh_member_run(line)
    assert [mesh.piece for mesh in parts] == [mesh.piece for mesh in whole] == list(line.pieces)
    for one, other in zip(parts, whole, strict=True):
        assert one.points == pytest.approx(other.points, abs=1e-9)
        assert (one.triangles == other.triangles).all()
        assert np.abs(one.normals - other.normals).max() < 1e-6
        assert np.abs(one.uvs - other.uvs).max() < 1e-4


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("count", [3, 6])
def test_a_sheared_section_s_rounds_are_cut_the_finer(room: Side, count: int) -> None:
    """By as much as a shear of s stretches a length at most: its larger singular value, (s + (4 + s²)^1/2) / 2.

    One face does for all pieces of the run, the level ones too. A quarter round of 10 has four tenths of the chord.
    """
    hand = 1 if room == "left" else -1
    run = lay_out("stair", [Straight(90.0), Corner(hand * RIGHT_ANGLE), Straight(90.0, 0.75)], room=room)
    line = join(run, "rail", quarter_round(10.0))
    shear = max(abs(piece.shear) for piece in line.pieces)
    assert shear > 0.5
    assert min(abs(piece.shear) for piece in line.pieces) == 0.0
    stretch = float(np.linalg.norm(np.array([[1.0, 0.0], [shear, 1.0]]), 2))
    for much, steps in ((1 + 4e-4, count), (1 - 4e-4, count + 1)):
        chord = much * stretch * 10.0 * (1 - math.cos(RIGHT_ANGLE / count / 2)) / 0.4
        for mesh in mesh_member_run(line, chord):
            assert len(mesh.shape.face.d) == 2 + steps


@pytest.mark.parametrize("room", ROOMS)
def test_a_cope_s_face_does_for_the_whole_run(room: Side) -> None:
    """Where there is one all pieces have its section, and meet point for point; without one none is cut so."""
    hand = 1 if room == "left" else -1
    steps = [Straight(90.0), Corner(hand * RIGHT_ANGLE, Way("cope")), Straight(120.0), Corner(-hand * 0.7)]
    coped = mesh_runs([join(lay_out("hall", [*steps, Straight(80.0)], room=room), "rail", BASE)])
    faces = [mesh.shape.face.outline.points for mesh in coped]
    assert all((face == faces[0]).all() for face in faces)
    begin = coped[2].points[: len(faces[0])]
    apart = np.linalg.norm(begin[:, None] - coped[1].points[None, :], axis=2).min(axis=1)
    assert apart.max() < 1e-9
    plain = mesh_runs([join(lay_out("hall", [*steps[2:], Straight(80.0)], room=room), "rail", BASE)])
    alone = make_face(BASE, 0.4 * 0.05)
    assert all((mesh.shape.face.outline.points == alone.outline.points).all() for mesh in plain)
    assert len(faces[0]) > len(alone.d)
