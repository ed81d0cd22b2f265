"""The profiles that ship: each loads, has the sizes it announces, could be run from stock, and can be turned."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
import shapely

from preview.joinery import join
from preview.models.mesh import mesh_runs
from preview.profiles import Arc, Edge, Line, Profile, flatten, make_profile, measure
from preview.runs import Curve, Step, Straight, lay_out
from preview.scene import load_profile

INCH = 25.4
FOLDER = Path(__file__).parents[2] / "profiles"
FILES = sorted(FOLDER.glob("*.toml"))

# Height and largest projection in inches, by hand from the files' shapes; the headers say the same.
SIZES = {
    "beaded-cornice-frieze": (3.5, 13 / 16),
    "beveled-plinth": (5.5, 1 + 1 / 16),
    "bolection-surround": (3.0, 1.5),
    "cavetto-cornice-corona": (1 + 1 / 16, 3.125),
    "classical-astragal": (1.375, 15 / 16),
    "classical-cavetto": (1.375, 1.375),
    "classical-cyma-recta": (1.625, 1.625),
    "classical-cyma-reversa": (1.75, 1.5),
    "classical-fillet": (1.25, 1.0),
    "classical-flat-cyma-recta": (1.625, 1.375),
    "classical-ovolo": (1.375, 1.5),
    "classical-quirked-cyma-reversa": (1.875, 1 + 7 / 16),
    "classical-quirked-ovolo": (1.75, 1 + 9 / 16),
    "classical-scotia": (1.25, 1.25),
    "classical-scotia-of-seven-parts": (1.375, 1.25),
    "classical-tall-ovolo": (1.625, 1.375),
    "classical-torus": (1.875, 1.25),
    "classical-wide-cyma-recta": (1.375, 1.625),
    "cove-and-bead-base": (4.0, 1.25),
    "cove-and-ogee-crown": (3.5, 2.75),
    "cove-base-cap": (1 + 1 / 16, 11 / 16),
    "flat-ogee-crown": (3 + 1 / 16, 2 + 15 / 16),
    "fluted-casing": (3.5, 0.75),
    "half-hand-rail": (2.0, 1.125),
    "hooked-picture-rail": (1 + 11 / 16, 13 / 16),
    "ogee-back-band": (0.875, 1.125),
    "ogee-base": (5.25, 0.75),
    "ogee-base-cap": (1.25, 11 / 16),
    "ogee-casing": (3.25, 0.75),
    "ogee-panel-molding": (1.375, 0.625),
    "ogee-window-apron": (2.75, 11 / 16),
    "ovolo-bed-molding": (1 + 11 / 16, 1.625),
    "quarter-round": (0.75, 0.75),
    "quarter-round-shoe": (0.75, 0.5),
    "raised-bar-nosing": (1.75, 2.0),
    "rounded-window-stool": (1 + 1 / 16, 4.75),
    "sprung-cove": (2.125, 2.125),
    "torus-chair-rail": (2.625, 1 + 3 / 16),
}

# What a shop asks for by its use, and the files that serve it.
USES = {
    "base": ("cove-and-bead-base", "ogee-base"),
    "base cap": ("ogee-base-cap", "cove-base-cap"),
    "shoe": ("quarter-round-shoe",),
    "quarter round": ("quarter-round",),
    "chair rail": ("torus-chair-rail",),
    "picture rail": ("hooked-picture-rail",),
    "casing": ("ogee-casing", "fluted-casing"),
    "back band": ("ogee-back-band",),
    "stool": ("rounded-window-stool",),
    "apron": ("ogee-window-apron",),
    "crown": ("cove-and-ogee-crown", "flat-ogee-crown"),
    "bed molding": ("ovolo-bed-molding",),
    "cove": ("sprung-cove",),
    "cornice": ("beaded-cornice-frieze", "ovolo-bed-molding", "cavetto-cornice-corona"),
    "panel molding": ("ogee-panel-molding",),
    "bolection": ("bolection-surround",),
    "plinth": ("beveled-plinth",),
    "nosing": ("raised-bar-nosing",),
    "hand rail": ("half-hand-rail",),
}

SPRUNG = {"cove-and-ogee-crown": 38, "flat-ogee-crown": 45, "ovolo-bed-molding": 45, "sprung-cove": 45}
"""The angle between the back and the wall, degrees, as each file announces it."""


@pytest.fixture(params=FILES, ids=lambda path: path.stem)
def path(request: pytest.FixtureRequest) -> Path:
    assert isinstance(request.param, Path)
    return request.param


@pytest.fixture
def profile(path: Path) -> Profile:
    return load_profile(path)


def test_all_are_here() -> None:
    assert {path.stem for path in FILES} == set(SIZES)


@pytest.mark.parametrize("use", USES)
def test_the_library_serves_every_use_of_the_trade(use: str) -> None:
    """Each file that is named for a use exists and says so in its comment."""
    for stem in USES[use]:
        text = (FOLDER / f"{stem}.toml").read_text("utf-8")
        comment = " ".join(line.removeprefix("#") for line in text.splitlines() if line.startswith("#"))
        assert use in " ".join(comment.lower().split()), stem


def test_every_profile_has_a_use_or_is_a_classical_shape() -> None:
    useful = {stem for stems in USES.values() for stem in stems}
    classical = {stem for stem in SIZES if stem.startswith("classical-")}
    assert useful | classical == set(SIZES)
    for stem in classical:
        text = (FOLDER / f"{stem}.toml").read_text("utf-8")
        assert text.startswith("# Classical shape: ")
        assert "# Source: " in text


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


def test_no_needle_and_no_crevice(profile: Profile) -> None:
    """Wood comes to no point sharper than 85 degrees, and no quirk is narrower at its bottom (common practice)."""
    for before, after in zip(profile.edges, (*profile.edges[1:], profile.edges[0]), strict=True):
        (ux, uy), (vx, vy) = before.tangent(1.0).tolist(), after.tangent(0.0).tolist()
        turn = math.degrees(math.atan2(ux * vy - uy * vx, ux * vx + uy * vy))
        assert abs(turn) <= 95, f"a turn of {turn:.0f} degrees at {before.end}"


def test_a_straight_cut_reaches_all_of_the_face(profile: Profile) -> None:
    """Seen from straight before the wall no part of the face hides behind another: it climbs all the way."""
    for edge in _face(profile):
        assert edge.tangent(np.linspace(0, 1, 9))[:, 1].min() >= -1e-9


@pytest.mark.parametrize("stem", sorted(SPRUNG))
def test_sprung_moldings(stem: str) -> None:
    """The angle of the bevel from the wall; 38 and 45 degrees are the usual ones (common practice)."""
    profile = load_profile(FOLDER / f"{stem}.toml")
    back = _bevel(profile)
    lean = math.degrees(math.atan2(back.start[0], back.start[1] - back.end[1]))
    assert lean == pytest.approx(SPRUNG[stem], abs=0.1)
    # It can be run from stock that finishes at 13/16 in. thick.
    assert max(_off(back, profile)) < 13 / 16 * INCH


@pytest.mark.parametrize("stem", ["flat-ogee-crown", "ovolo-bed-molding", "sprung-cove"])
def test_a_sprung_molding_can_be_run_on_its_back(stem: str) -> None:
    """Square to the bevel, too, no part of the face hides behind another."""
    profile = load_profile(FOLDER / f"{stem}.toml")
    along = _bevel(profile).reversed().tangent(0.0)
    for edge in _face(profile):
        assert (edge.tangent(np.linspace(0, 1, 9)) @ along).min() >= -1e-9


@pytest.mark.parametrize("room", ["left", "right"])
def test_a_straight_and_turned_corners_close(profile: Profile, room: Literal["left", "right"]) -> None:
    """Straight, round an outside corner, and round an inside one whose radius is a hair over the projection.

    Volumes: the area times the length, or the way of its centroid (Pappus and Guldin; Larson & Edwards, Calculus,
    sec. 7.6, theorem 7.1).
    """
    size = measure(profile)
    d = size.centroid[0]
    hand = 1 if room == "left" else -1
    tight = size.d_max + 0.11
    quarter = math.pi / 2
    closed_forms: dict[str, tuple[Step, float]] = {
        "straight": (Straight(300.0), 300.0 * size.area),
        "outside": (Curve(-hand * quarter, 12.0), size.area * quarter * (12.0 + d)),
        "inside": (Curve(hand * quarter, tight), size.area * quarter * (tight - d)),
    }
    for name, (step, volume) in closed_forms.items():
        line = join(lay_out(name, [step], room=room), "member", profile)
        (mesh,) = mesh_runs([line], chord=0.01)
        assert _open_edges(mesh.triangles) == 0, name
        assert mesh.volume == pytest.approx(volume, rel=1e-3), name


def _open_edges(triangles: np.ndarray) -> int:
    """How many directed edges, by the index of their points, lack one that runs back, or occur twice."""
    edges = [(int(a), int(b)) for t in triangles.tolist() for a, b in zip(t, (*t[1:], t[0]), strict=True)]
    kept = set(edges)
    return len(edges) - len(kept) + sum((b, a) not in kept for a, b in kept)


def _face(profile: Profile) -> list[Edge]:
    """The edges between the foot and the top."""
    top = measure(profile).h_max
    last = next(i for i, edge in enumerate(profile.edges) if edge.end[1] == pytest.approx(top, abs=1e-9))
    return list(profile.edges[1 : last + 1])


def _bevel(profile: Profile) -> Line:
    """The back of a sprung molding."""
    (back,) = [
        edge
        for edge in profile.edges
        if isinstance(edge, Line) and edge.start[0] > 0 and edge.end[0] == 0 < edge.end[1] < edge.start[1]
    ]
    return back


def _off(back: Line, profile: Profile) -> list[float]:
    """How far points of a profile stand off the line of its bevel."""
    (d, h), (ux, uy) = back.end, back.reversed().tangent(0.0)
    points = flatten(profile, 0.01).points
    return [float((x - d) * uy - (y - h) * ux) for x, y in points.tolist()]
