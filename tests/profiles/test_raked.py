"""The raked section, against the handbooks' drawing-board construction and its worked figures."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.profiles import (
    Arc,
    Line,
    Profile,
    Shape,
    distance_to,
    flatten,
    measure,
    raked_section,
    sketch,
)
from preview.scene import load_profile

FOLDER = Path(__file__).parents[2] / "profiles"
CROWNS = ["cove-and-ogee-crown", "flat-ogee-crown", "sprung-cove", "cavetto-cornice-corona", "ogee-base"]
INCH = 25.4
PITCHES = {4: 18.43495, 8: 33.69007, 12: 45.0}
"""Rise in 12, and degrees."""


def points_of(profile: Profile, count: int = 400) -> np.ndarray:
    """Random points on the outline, arcs and lines alike."""
    rng = np.random.default_rng(8)
    lengths = np.array([edge.length for edge in profile.edges])
    chosen = rng.choice(len(lengths), size=count, p=lengths / lengths.sum())
    return np.concatenate([profile.edges[i].point([rng.random()]) for i in chosen])


def on_the_drawing_board(level: np.ndarray, angle: float) -> np.ndarray:
    """The rake's section from a level section (n, 2), in inches or mm, by lines only.

    The elevation: the corner is the upright through 0, the level return is seen in profile to its left, so that a
    point x out and z up stands at (-x, z). From each point a line is carried up parallel to the rake. Where it
    meets a line square to the rake, the height is read off along that line; the same projections are laid off from
    it (American House Carpenter, art. 323 and fig. 248; Van Cleve, problem XIII; as paraphrased).
    """
    along = np.array([math.cos(angle), math.sin(angle)])
    square = np.array([-math.sin(angle), math.cos(angle)])
    foot = 500.0 * along  # the section is drawn somewhere up the rake
    found = []
    for x, z in level.tolist():
        carried = np.array([-x, z])
        # carried + a * along = foot + b * square
        _, b = np.linalg.solve(np.column_stack([along, -square]), foot - carried)
        found.append((x, b))
    return np.array(found)


@pytest.mark.parametrize("pitch", PITCHES)
@pytest.mark.parametrize("name", CROWNS)
def test_the_drawing_board_gives_the_same_section(name: str, pitch: int) -> None:
    """A square outside corner: every point of a shipped section, carried up, lies on the raked one."""
    profile = load_profile(FOLDER / f"{name}.toml")
    slope = pitch / 12
    raked, deviation = raked_section(profile, slope, slope)
    away = distance_to(raked, on_the_drawing_board(points_of(profile), math.atan(slope)))
    assert away.max() <= 0.002
    assert deviation <= 0.002
    assert away.max() <= deviation + 1e-6
    assert measure(raked).d_max == pytest.approx(measure(profile).d_max, abs=0.002)  # the same projections


@pytest.mark.parametrize(
    ("pitch", "height", "chord", "top", "spring"),
    [(4, 4.2691, 5.0115, 5.375, 31.59), (8, 4.4723, 5.1857, 7.125, 30.41), (12, 4.4194, 5.1402, 8.875, 30.71)],
)
def test_worked_figures(pitch: int, height: float, chord: float, top: float, spring: float) -> None:
    """A crown 3-5/8 high and 2-5/8 out (WM 47's sizes, as read): its top point in the rake's section and in the
    level return at the top of the climb. Figures from the construction, worked apart from this program."""
    crown = sketch("crown", 0.01, [Shape("bevel", 3.625 * INCH, 2.625 * INCH - 0.01)])
    slope = pitch / 12
    assert math.degrees(math.atan(slope)) == pytest.approx(PITCHES[pitch], abs=1e-5)
    raked, deviation = raked_section(crown, slope, slope)
    x, z = max((edge.start for edge in raked.edges), key=lambda at: at[0])
    assert deviation == 0.0
    assert (x / INCH, z / INCH) == (pytest.approx(2.625), pytest.approx(height, abs=5e-5))
    assert math.hypot(x, z) / INCH == pytest.approx(chord, abs=5e-5)
    assert math.degrees(math.atan2(x, z)) == pytest.approx(spring, abs=0.005)
    back, _ = raked_section(crown, 0.0, 2 * slope)
    x, z = max((edge.start for edge in back.edges), key=lambda at: at[0])
    assert (x / INCH, z / INCH) == (pytest.approx(2.625), pytest.approx(top, abs=1e-9))
    level, _ = raked_section(crown, 0.0, 0.0)
    assert math.hypot(2.625, 3.625) == pytest.approx(4.4756, abs=5e-5)
    assert level.edges == crown.edges


def test_turning_the_section_would_be_wrong() -> None:
    """The joint needs a shear: the level section, turned or only shortened, misses the construction by far."""
    profile = load_profile(FOLDER / "cove-and-ogee-crown.toml")
    board = on_the_drawing_board(points_of(profile), math.atan(0.5))
    shortened, _ = raked_section(profile, 0.5, 0.0)
    assert distance_to(profile, board).max() > 5.0
    assert distance_to(shortened, board).max() > 5.0


@pytest.mark.parametrize("name", CROWNS)
@pytest.mark.parametrize(("slope", "shear"), [(0.7, 0.7), (-0.7, -0.7), (0.7, -0.35), (0.0, 1.4), (0.4, 0.0)])
def test_the_map_keeps_what_it_must(name: str, slope: float, shear: float) -> None:
    """Areas shrink by cos t, exactly; corners stay corners and smooth joins smooth; the back stays on the wall."""
    profile = load_profile(FOLDER / f"{name}.toml")
    raked, deviation = raked_section(profile, slope, shear)
    cos = 1 / math.hypot(1, slope)
    size, before = measure(raked), measure(profile)
    assert size.area == pytest.approx(before.area * cos, abs=deviation * before.perimeter * 2)
    assert size.centroid[0] == pytest.approx(before.centroid[0], abs=0.01)
    assert size.centroid[1] == pytest.approx(cos * (before.centroid[1] + shear * before.centroid[0]), abs=0.01)
    first, *_, last = raked.edges
    assert last.end == first.start
    assert first.start[0] == 0.0
    lines = [sum(isinstance(edge, Line) for edge in each.edges) for each in (profile, raked)]
    assert lines[1] >= lines[0]
    corners = [sum(_turns(a, b) > 1e-4 for a, b in pairwise((*each.edges, each.edges[0]))) for each in (profile, raked)]
    assert corners[0] == corners[1]


def _turns(before: Line | Arc, after: Line | Arc) -> float:
    (ux, uy), (vx, vy) = before.tangent(1.0).tolist(), after.tangent(0.0).tolist()
    return abs(math.atan2(ux * vy - uy * vx, ux * vx + uy * vy))


@settings(max_examples=40)
@given(st.floats(-1.5, 1.5), st.floats(-1.5, 1.5), st.sampled_from([0.02, 0.002, 0.0002]))
def test_any_climb_stays_within_the_tolerance(slope: float, shear: float, tolerance: float) -> None:
    """Both ways: the true section's points from the arcs, and the arcs' from a fine tracing of the true section."""
    shapes = [Shape("fillet", 6), Shape("ogee", 24, 15), Shape("bead", 8), Shape("fillet", 10)]
    profile = sketch("crown", 12.0, shapes)
    raked, deviation = raked_section(profile, slope, shear, tolerance)
    cos = 1 / math.hypot(1, slope)
    true = points_of(profile) @ np.array([[1.0, shear * cos], [0.0, cos]])
    assert distance_to(raked, true).max() <= 1.02 * deviation + 1e-6  # which is measured at 129 points of each part
    assert deviation <= tolerance * (1 + 1e-6)
    fine = shapely.LinearRing(flatten(profile, 1e-4).points @ np.array([[1.0, shear * cos], [0.0, cos]]))
    assert shapely.distance(fine, shapely.points(points_of(raked))).max() <= tolerance + 4e-4


@pytest.mark.parametrize(("slope", "shear"), [(math.nan, 0.0), (math.inf, 0.0), (0.5, math.nan), (6.0, 0.0)])
def test_climbs_that_are_none(slope: float, shear: float) -> None:
    with pytest.raises(PreviewError, match="climb"):
        raked_section(sketch("crown", 10.0, [Shape("fillet", 30)]), slope, shear)


def test_a_back_that_becomes_too_short() -> None:
    shapes = [Shape("fillet", 2), Shape("bevel", 20, 20), Shape("fillet", 2)]
    with pytest.raises(PreviewError, match="back"):
        raked_section(sketch("strip", 10.0, shapes, wall=1.2, ceiling=4), 1.0, 1.0)
