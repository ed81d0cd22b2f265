"""The profiles that ship: each loads, has the sizes it announces, and could be run from stock."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import shapely

from preview.profiles import Arc, Line, Profile, flatten, make_profile, measure
from preview.scene import load_profile

INCH = 25.4
FOLDER = Path(__file__).parents[2] / "profiles"
FILES = sorted(FOLDER.glob("*.toml"))

# Height and largest projection in inches, by hand from the files' shapes; the headers say the same.
SIZES = {
    "beveled-plinth": (5.5, 1 + 1 / 16),
    "cove-and-bead-base": (4.0, 1.25),
    "cove-and-ogee-crown": (3.5, 2.75),
    "ogee-base-cap": (1.25, 11 / 16),
    "ogee-casing": (3.25, 0.75),
    "ogee-panel-molding": (1.375, 0.625),
    "quarter-round-shoe": (0.75, 0.5),
    "torus-chair-rail": (2.625, 1 + 3 / 16),
}


@pytest.fixture(params=FILES, ids=lambda path: path.stem)
def path(request: pytest.FixtureRequest) -> Path:
    assert isinstance(request.param, Path)
    return request.param


@pytest.fixture
def profile(path: Path) -> Profile:
    return load_profile(path)


def test_all_eight_are_here() -> None:
    assert [path.stem for path in FILES] == sorted(SIZES)


def test_sizes(path: Path, profile: Profile) -> None:
    size = measure(profile)
    height, projection = SIZES[path.stem]
    assert (size.h_min, size.d_min) == (0.0, 0.0)
    assert size.h_max == pytest.approx(height * INCH, abs=1e-9)
    assert size.d_max == pytest.approx(projection * INCH, abs=1e-9)


def test_a_file_is_named_for_what_it_holds(path: Path, profile: Profile) -> None:
    assert profile.name.lower().replace(" ", "-") == path.stem
    assert path.read_text("utf-8").startswith("# ")


def test_every_profile_is_whole(profile: Profile) -> None:
    assert make_profile(profile.name, profile.edges) == profile
    assert shapely.Polygon(flatten(profile, 0.001).points).is_valid


def test_a_cutter_can_reach_it(profile: Profile) -> None:
    """No curve and no flat under 1/16 in., no wood thinner than 1/8 in. (common practice)."""
    for edge in profile.edges:
        if isinstance(edge, Arc):
            assert edge.radius >= INCH / 16
        assert edge.length >= INCH / 16 - 1e-9
    polygon = shapely.Polygon(flatten(profile, 0.01).points)
    left = polygon.buffer(-INCH / 16)
    assert isinstance(left, shapely.Polygon), "it would break in two"
    assert not left.is_empty


def test_the_crown_springs_at_38_degrees() -> None:
    """The angle of its bevel from the wall; 38 and 45 degrees are the usual ones (common practice)."""
    crown = load_profile(FOLDER / "cove-and-ogee-crown.toml")
    (back,) = [
        edge for edge in crown.edges if isinstance(edge, Line) and edge.start[0] > 0 and edge.end[0] == 0 < edge.end[1]
    ]
    lean = math.degrees(math.atan2(back.start[0], back.start[1] - back.end[1]))
    assert lean == pytest.approx(38, abs=0.1)
    # It can be run from stock that finishes at 13/16 in. thick.
    far = max(float(distance) for distance in _off(back, crown))
    assert far < 13 / 16 * INCH


def _off(back: Line, profile: Profile) -> list[float]:
    """How far points of a profile stand off the line of its bevel."""
    (d, h), (ux, uy) = back.end, back.reversed().tangent(0.0)
    points = flatten(profile, 0.01).points
    return [float((x - d) * uy - (y - h) * ux) for x, y in points.tolist()]
