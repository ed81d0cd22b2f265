"""Moves that must change nothing: turn, mirror, walk backwards, scale, shift, another level."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from preview.joinery import exact_volumes, integrated_volume, join
from preview.models.mesh import PieceMesh, mesh_member_run
from preview.profiles import Arc, Line, Profile, make_profile
from preview.runs import Corner, Curve, Side, Step, Straight, Vec2, lay_out
from samples import BASE, CROWN, RIGHT_ANGLE, block, half_round

DEGREE = math.pi / 180
JOBS: dict[str, list[Step]] = {
    "steps": [Straight(300.0), Corner(-RIGHT_ANGLE), Straight(120.0), Corner(RIGHT_ANGLE), Straight(200.0)],
    "smooth curves": [Straight(150.0), Curve(-RIGHT_ANGLE, 50.8), Straight(90.0), Curve(1.0, 75.0)],
    "hunting miter": [Straight(250.0), Corner(-70 * DEGREE), Curve(-1.2, 90.0)],
    "wave": [Curve(1.0, 200.0), Corner(-50 * DEGREE), Curve(-0.8, 120.0), Corner(20 * DEGREE), Straight(300.0)],
}


@dataclass(frozen=True)
class Job:
    """What a mesh is made from; a move is a change of it."""

    steps: Sequence[Step]
    profile: Profile
    start: Vec2 = (100.0, 30.0)
    heading: float = 0.0
    room: Side = "left"
    level: float = 0.0
    chord: float = 0.2

    def meshes(self) -> list[PieceMesh]:
        run = lay_out("job", self.steps, start=self.start, heading=self.heading, room=self.room, level=self.level)
        return mesh_member_run(join(run, "m", self.profile), self.chord)


def turned_over(step: Step, scale: float = 1.0, flip: int = 1) -> Step:
    if isinstance(step, Straight):
        return Straight(step.length * scale)
    if isinstance(step, Corner):
        return Corner(flip * step.turn)
    return Curve(flip * step.sweep, step.radius * scale)


def other(room: Side) -> Side:
    return "right" if room == "left" else "left"


def scaled_profile(profile: Profile, scale: float) -> Profile:
    def big(point: Vec2) -> Vec2:
        return point[0] * scale, point[1] * scale

    return make_profile(
        profile.name,
        [
            Arc(big(edge.start), big(edge.end), big(edge.center), edge.sweep)
            if isinstance(edge, Arc)
            else Line(big(edge.start), big(edge.end))
            for edge in profile.edges
        ],
    )


def quarter_turn(job: Job) -> Job:
    (x, y) = job.start
    return Job(job.steps, job.profile, (-y, x), job.heading + RIGHT_ANGLE, job.room, job.level, job.chord)


def shift(job: Job) -> Job:
    (x, y) = job.start
    return Job(job.steps, job.profile, (x + 4096.0, y - 512.0), job.heading, job.room, 768.0, job.chord)


def mirror(job: Job) -> Job:
    steps = [turned_over(step, flip=-1) for step in job.steps]
    (x, y) = job.start
    return Job(steps, job.profile, (x, -y), -job.heading, other(job.room), job.level, job.chord)


def scale(job: Job) -> Job:
    """From inches to mm, all alike."""
    k = 25.4
    steps = [turned_over(step, scale=k) for step in job.steps]
    start = (job.start[0] * k, job.start[1] * k)
    return Job(steps, scaled_profile(job.profile, k), start, job.heading, job.room, job.level * k, job.chord * k)


def backwards(job: Job) -> Job:
    """From its other end, heading back, the room on the other hand."""
    run = lay_out("job", job.steps, start=job.start, heading=job.heading, room=job.room)
    tx, ty = run.elements[-1].end_tangent
    steps = [turned_over(step, flip=-1) for step in reversed(job.steps)]
    heading = math.atan2(-ty, -tx)
    return Job(steps, job.profile, run.elements[-1].end, heading, other(job.room), job.level, job.chord)


MOVES: dict[str, tuple[Callable[[Job], Job], Callable[[np.ndarray], np.ndarray], float]] = {
    "turn by 90": (quarter_turn, lambda p: p[:, [1, 0, 2]] * [1, -1, 1], 1.0),
    "shift": (shift, lambda p: p - [4096.0, -512.0, 768.0], 1.0),
    "mirror": (mirror, lambda p: p * [1, -1, 1], 1.0),
    "inches": (scale, lambda p: p / 25.4, 25.4),
    "walk backwards": (backwards, lambda p: p, 1.0),
}


@pytest.mark.parametrize("move", MOVES)
@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("profile", [BASE, CROWN, block(), half_round()], ids=lambda p: p.name)
@pytest.mark.parametrize("room", ["left", "right"])
def test_a_move_changes_nothing(move: str, job: str, profile: Profile, room: Side) -> None:
    change, undo, factor = MOVES[move]
    before = Job([turned_over(step, flip=1 if room == "left" else -1) for step in JOBS[job]], profile, room=room)
    plain, moved = before.meshes(), change(before).meshes()
    if move == "walk backwards":
        moved = moved[::-1]
    for a, b in zip(plain, moved, strict=True):
        # Where a cut is curved, which way a facet's four points are split is a matter of rounding, and of the travel.
        plane = a.piece.begin.is_plane and a.piece.end.is_plane
        slack = 0.0 if plane else (0.1 if move == "walk backwards" else 1e-3) * before.chord * a.area
        assert b.volume / factor**3 == pytest.approx(a.volume, rel=1e-10, abs=slack)
        assert b.area / factor**2 == pytest.approx(a.area, rel=1e-8 if plane else 1e-3)
        assert len(a.triangles) == len(b.triangles)
        rings = undo(b.points).reshape(b.shape.spans + 1, -1, 3)
        if move == "walk backwards":
            rings = rings[::-1]
        assert np.abs(a.points.reshape(rings.shape) - rings).max() < 1e-9
    exact = [exact_volumes([mesh.piece for mesh in meshes]) for meshes in (plain, moved)]
    assert exact[1] == pytest.approx(exact[0] * factor**3, rel=1e-12)
    assert integrated_volume(plain[-1].piece) == pytest.approx(float(exact[0][-1]), rel=1e-11)


def test_a_quarter_turn_is_exact_where_numbers_are_whole() -> None:
    job = Job(JOBS["steps"], block())
    for a, b in zip(job.meshes(), quarter_turn(job).meshes(), strict=True):
        assert np.abs(b.points[:, [1, 0, 2]] * [1, -1, 1] - a.points).max() < 1e-13
