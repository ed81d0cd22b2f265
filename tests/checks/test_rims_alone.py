"""Two rims compared: what the digits of files and the facets of rounds may hide, and which side answers to which."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from preview.checks import rims
from preview.checks.faces import EndFace
from preview.checks.rims import _angles, _coarseness, compare
from test_faces_alone import flat, polygon
from test_faces_pinned import end
from test_many_bodies import ring

Array = np.ndarray


def facing_down(one: EndFace, by: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> EndFace:
    """The same rim as another body has it: walked the other way, looking down."""
    back = np.arange(len(one.starts))[::-1]
    look = np.array((0.0, 0.0, -1.0))
    return replace(
        one,
        starts=one.stops[back] + np.array(by),
        stops=one.starts[back] + np.array(by),
        following=np.roll(np.arange(len(back)), -1),
        normals=np.tile(look, (len(back), 1)),
        normal=look,
        center=one.center + np.array(by),
    )


def test_the_digits_of_both_files_are_allowed_twice() -> None:
    one, other = replace(end(20, 30), step=0.125), replace(end(20, 30, (0.0, 0.0, 1.0), looks=-1), step=0.25)
    for found in (compare(one, other), compare(other, one)):
        assert found.gap.limit == pytest.approx(0.002 + 0.75)
        assert found.step.limit == pytest.approx(0.002 + 0.75)
        assert found.gap.facets == pytest.approx(0.75)
        assert (found.facets, found.facets_angle) == (0.0, 0.0)


@pytest.mark.parametrize(("wide", "high", "over"), [(20.0, 30.0, 30.0), (60.0, 30.0, 60.0)])
def test_the_digits_tilt_a_side_by_what_they_are_of_its_length(wide: float, high: float, over: float) -> None:
    """Turned by 3 degrees in its plane; judged by the longest side, which they tilt least."""
    one, other = replace(end(wide, high), step=0.001), replace(end(wide, high, looks=-1), step=0.002)
    off = np.array((100.0, -70.0, 3.0))
    cos, sin = math.cos(math.radians(3)), math.sin(math.radians(3))
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    other = replace(other, starts=other.starts @ turn.T + off, stops=other.stops @ turn.T + off, center=off)
    one = replace(one, starts=one.starts + off, stops=one.stops + off, center=off)
    for found in (compare(one, other), compare(other, one)):
        assert found.angle.judged == pytest.approx(3.0)
        assert found.angle.limit == pytest.approx(0.5 + math.degrees(0.006 / over))


@pytest.mark.parametrize("curved", [(True, True), (True, False), (False, True), (False, False)])
@pytest.mark.parametrize("gap", [0.5, -0.5])
def test_a_gap_between_curved_faces_may_be_out_by_the_larger_sagitta(curved: tuple[bool, bool], gap: float) -> None:
    """24 facets against 12 on a circle of 10 mm, so much above each other; between flat faces no facet hides a gap."""
    one = replace(polygon(10.0, 24), flat=not curved[0])
    other = replace(facing_down(polygon(10.0, 12), (0.0, 0.0, gap)), flat=not curved[1])
    turn = math.pi / 6
    sagitta = 20.0 * math.sin(turn / 2) * turn / 8
    for found in (compare(one, other), compare(other, one)):
        assert found.gap.figure == pytest.approx(0.5)
        assert found.opens == pytest.approx(gap)
        assert found.gap.limit == pytest.approx(0.002 + sagitta * any(curved))
        assert found.step.limit == pytest.approx(0.002 + sagitta)
        assert found.facets == pytest.approx(sagitta)
        assert found.facets_angle == pytest.approx(30.0)


def test_the_gap_of_a_curved_face_is_taken_where_it_looks() -> None:
    """A face that leans by 30 degrees all along: a displacement of 1 mm up is cos 30 of a gap, sin 30 of a step."""
    one = flat([(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (0.0, 20.0)])
    lean = np.tile((0.0, -0.5, math.sqrt(0.75)), (4, 1))
    bent = replace(one, normals=lean, flat=False)
    other = replace(facing_down(one, (0.0, 0.0, 1.0)), normals=-lean, flat=False)
    found = compare(bent, other)
    assert (found.gap.figure, found.opens) == pytest.approx((math.sqrt(0.75), math.sqrt(0.75)))
    assert found.step.figure == pytest.approx(0.5)
    # Flat ones are measured along the mean of where both look as a whole.
    tilted = replace(facing_down(one, (0.0, 0.0, 1.0)), normal=np.array((0.0, 0.6, -0.8)))
    found = compare(one, tilted)
    half = math.atan2(0.6, 0.8) / 2
    assert found.gap.figure == pytest.approx(math.cos(half))
    assert found.step.figure == pytest.approx(math.sin(half))


def test_a_round_against_a_square() -> None:
    """36 facets in a square of 20 mm: the facet at 45 degrees runs so to both sides; it hides half of 10 degrees."""
    square = flat([(-10.0, -10.0), (10.0, -10.0), (10.0, 10.0), (-10.0, 10.0)])
    for found in (
        compare(polygon(10.0, 36), facing_down(square)),
        compare(square, facing_down(polygon(10.0, 36))),
    ):
        assert found.angle.figure == pytest.approx(45.0)
        assert found.angle.judged == pytest.approx(45.0)
        assert found.angle.limit == pytest.approx(0.5 + 5.0, rel=1e-6)
        assert found.angle.facets == pytest.approx(5.0, rel=1e-6)
        x, y, z = found.angle.at
        assert (abs(x), abs(y), z) == pytest.approx((*[10 * math.cos(math.radians(5)) * math.sqrt(0.5)] * 2, 0.0))
        assert found.step.figure == pytest.approx(10 * math.sqrt(2) - 10 * math.cos(math.radians(5)))


# The side that answers to a side.


def sides(*several: tuple[float, float, float, float]) -> EndFace:
    """Loose sides in plan: from (x, y) to (x, y)."""
    ends = np.array(several)
    found = ring(np.column_stack([ends[:, :2], np.zeros(len(ends))]))
    return replace(found, stops=np.column_stack([ends[:, 2:], np.zeros(len(ends))]))


@pytest.fixture(params=[False, True], ids=["few", "many"])
def many(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if request.param:
        monkeypatch.setattr(rims, "FEW", 0)
        monkeypatch.setattr(rims, "BLOCK", 2)


@pytest.mark.usefixtures("many")
@pytest.mark.parametrize(("off", "angle"), [(1.99, 0.0), (2.01, 90.0)])
def test_of_sides_within_twice_the_nearest_the_most_alike_answers(off: float, angle: float) -> None:
    """An upright side 1 mm off, and one that runs along so far off."""
    mine = sides((-5.0, 0.0, 15.0, 0.0), (100.0, 0.0, 100.0, 9.0))
    theirs = sides((5.0, 1.0, 5.0, 30.0), (0.0, -off, 50.0, -off), (100.0, 0.0, 100.0, 20.0))
    middle = (mine.starts + mine.stops) / 2
    assert _angles(mine, middle, theirs, np.array([1.0, 0.0])) == pytest.approx(np.array((angle, 0.0)))


@pytest.mark.usefixtures("many")
@pytest.mark.parametrize(("off", "angle"), [(0.9e-6, 30.0), (1.1e-6, 0.0)])
def test_beside_a_side_that_touches_nothing_else_answers(off: float, angle: float) -> None:
    """But for a millionth of a mm; where nothing answers there is no angle."""
    mine = sides((-5.0, 0.0, 5.0, 0.0))
    leaning = sides((0.0, off, math.cos(math.radians(30)), off + 0.5))
    assert _angles(mine, np.zeros((1, 3)), leaning, np.zeros(1)) == pytest.approx(np.array([angle]), abs=1e-9)


@pytest.mark.usefixtures("many")
@pytest.mark.parametrize(("short", "angle"), [(0.051, 30.0), (0.049, 0.0)])
@pytest.mark.parametrize("whose", [0, 1])
def test_short_sides_have_no_direction(short: float, angle: float, whose: int) -> None:
    lean = np.array((math.cos(math.radians(30)), math.sin(math.radians(30))))
    x, y = lean * (short if whose else 20.0)
    half = 5.0 if whose else short / 2
    mine, theirs = sides((-half, 0.0, half, 0.0)), sides((0.0, 0.0, float(x), float(y)))
    assert _angles(mine, np.zeros((1, 3)), theirs, np.zeros(1)) == pytest.approx(np.array([angle]))


@pytest.mark.usefixtures("many")
@pytest.mark.parametrize("seed", range(3))
def test_the_angles_of_sides_by_looking_at_each_pair(seed: int) -> None:
    random = np.random.default_rng(seed)
    mine, theirs = (
        sides(*((x, y, x + u, y + v) for x, y, u, v in random.normal(size=(many_, 4)).tolist())) for many_ in (9, 37)
    )
    middle = (mine.starts + mine.stops) / 2
    ahead = theirs.stops - theirs.starts

    def off(at: Array) -> Array:
        t = np.clip(((at - theirs.starts) * ahead).sum(axis=1) / (ahead**2).sum(axis=1), 0, 1)
        return np.asarray(np.hypot(*(theirs.starts + t[:, None] * ahead - at)[:, :2].T))

    apart = np.array([off(at).min() for at in middle])
    wanted = []
    for at, side, least in zip(middle, mine.stops - mine.starts, apart, strict=True):
        cosine = np.abs(ahead @ side) / np.linalg.norm(ahead, axis=1) / np.linalg.norm(side)
        wanted.append(np.degrees(np.arccos(cosine))[off(at) <= 2 * least].min())
    assert _angles(mine, middle, theirs, apart) == pytest.approx(np.array(wanted), abs=1e-5)


# What counts for a round.


@dataclass(frozen=True)
class Bend:
    """A line of segments, each so long, that turns by 10 degrees after each, between two square arrises."""

    lengths: tuple[float, ...]

    def turns(self, step: float = 0.0) -> Array:
        """How much of a round each segment is taken for, in degrees."""
        angles = np.radians(10.0 * np.arange(len(self.lengths)))
        steps = np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(self.lengths)[:, None]
        points = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
        last = angles[-1] + math.pi / 2
        away = points[-1] + 300.0 * np.array((math.cos(last), math.sin(last)))
        corners = [*points.tolist(), away.tolist(), (0.0, 300.0)]
        face = replace(flat([(float(x), float(y)) for x, y in corners]), step=step)
        return np.asarray(np.degrees(_coarseness(face).turn)[: len(self.lengths)])


@pytest.mark.parametrize(
    ("lengths", "counts"),
    [
        ((5.0, 5.0, 5.0, 5.0, 5.0), (1, 1, 1, 1, 1)),
        ((9.9, 5.0, 5.0, 5.0, 5.0), (1, 1, 1, 1, 1)),
        ((10.1, 5.0, 5.0, 5.0, 5.0), (0, 1, 1, 1, 1)),
        ((5.0, 5.0, 5.0, 5.0, 9.9), (1, 1, 1, 1, 1)),
        ((5.0, 5.0, 5.0, 5.0, 10.1), (1, 1, 1, 1, 0)),
        ((0.3, 5.0, 5.0, 5.0, 0.3), (1, 1, 1, 1, 1)),
        # Twice as long as one beside it will do.
        ((5.0, 5.0, 9.9, 2.0, 2.0), (1, 1, 1, 1, 1)),
        ((2.0, 2.0, 9.9, 5.0, 5.0), (1, 1, 1, 1, 1)),
        ((2.0, 2.0, 10.1, 5.0, 2.0), (1, 1, 0, 1, 1)),
        # Two turns make a round of the segment between them, one turn makes none.
        ((5.0, 5.0, 5.0), (1, 1, 1)),
        ((5.0, 5.0), (0, 0)),
    ],
)
def test_which_segments_are_facets_of_a_round(lengths: tuple[float, ...], counts: tuple[int, ...]) -> None:
    assert Bend(lengths).turns() == pytest.approx(10.0 * np.array(counts), abs=1e-9)


@pytest.mark.parametrize(("step", "counts"), [(0.999, (1, 1, 1)), (1.001, (0, 0, 0))])
def test_the_digits_hide_the_turn_of_the_shorter_segment(step: float, counts: tuple[int, ...]) -> None:
    """Four steps over 3 mm; a turn beside a segment that is shorter is lost, and with it the round between two."""
    lost = (math.radians(10.0) - 1e-4) * 3.0 / 4
    assert Bend((5.0, 3.0, 5.0)).turns(step * lost) == pytest.approx(10.0 * np.array(counts), abs=1e-9)
