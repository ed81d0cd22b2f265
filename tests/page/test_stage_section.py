"""A run cut open in the picture shows the exact profile: sweep, cut, fill and camera at once, pixel by pixel.

The profile is flattened from its exact edges, placed by the wall line's own geometry, and held against the picture by
another library (shapely). No mesh is read.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from playwright.sync_api import Page

from browsing import Opener, PageOf
from preview.build import Built, build
from preview.profiles import flatten
from preview.scene import load_scene
from preview.shipped import folder
from stage_pictures import ask, picture, places, plain, rested, view

Floats = NDArray[np.float64]

EDGE = 1.2
"""mm: nearer to an edge than this the outline is drawn, and a pixel may show both sides."""
STEP = 1.3
WINDOW = (960, 640)
BARE_WOOD = np.array([0.875, 0.765, 0.6])
AROUND = 14.0
"""How far, mm, beyond the section the grid reaches."""


def built(scene: str) -> Built:
    return build(load_scene(folder("scenes") / f"{scene}.toml"))


class Cut:
    """A place on a built scene's first run: the middle of its element `number` (from 0)."""

    def __init__(self, made: Built, number: int, run: int = 0) -> None:
        line = made.scene.runs[run].run
        element = line.elements[number]
        half = element.length / 2
        self.station = sum(each.length for each in line.elements[:number]) + half
        self.at = np.array([*element.point(half), 0.0])
        self.travel = np.array([*element.tangent_at(half), 0.0])
        self.room = line.hand * np.array([-self.travel[1], self.travel[0], 0.0])
        self.sections = [
            shapely.Polygon(flatten(each.profile, 0.01).points) for each in made.lines if each.run.name == line.name
        ]

    def space(self, flat: Floats) -> Floats:
        """Profile points (n, 2) in space (n, 3)."""
        return self.at + flat[:, :1] * self.room + flat[:, 1:] * np.array([0.0, 0.0, 1.0])


def looked_at(page: Page, cut: Cut, *, turned: bool) -> tuple[Floats, NDArray[np.int_]]:
    """Cut there and look square on: grid points (n, 2) of the profile's plane, their colors (n, 3)."""
    origin = np.array(page.evaluate("window.__preview.document.origin"))
    whole = shapely.unary_union(cut.sections)
    low, high = np.array(whole.bounds[:2]) - AROUND, np.array(whole.bounds[2:]) + AROUND
    grid = np.stack(np.meshgrid(*(np.arange(a, b, STEP) for a, b in zip(low, high, strict=True))), -1).reshape(-1, 2)
    target = cut.space((low + high)[None] / 2)[0] - origin
    away = (1.0 if turned else -1.0) * cut.travel * float((high - low).max()) * 2.6
    ask(page, "cut", {"path": 0, "station": cut.station, "turned": turned})
    ask(page, "view", view(target + away, target, flat=True), False)
    rested(page)
    shot = picture(page)
    at = places(page, (cut.space(grid) - origin).tolist())
    assert at.min() > 0
    assert (at < [shot.shape[1], shot.shape[0]]).all()
    x, y = np.floor(at).astype(int).T
    return grid, shot[y, x].astype(int)


@pytest.mark.parametrize(
    ("scene", "elements", "members"),
    [
        ("window-seat", (5, 1), 1),  # a mitered straight, and the middle of a turned piece
        ("six-sided-room", (1,), 1),  # a sprung crown
        ("cornice", (2,), 4),  # a build-up of four members
    ],
)
def test_section_is_the_profile(
    opened: Opener, page_of: PageOf, scene: str, elements: tuple[int, ...], members: int
) -> None:
    """Every point of a grid that is not at an edge has the cut's color if it is in wood, and another if it is not.

    That color is three tenths of the finish's and seven of bare wood, without light or tone mapping.
    """
    page = opened(plain(page_of(scene), "plain-cap"), WINDOW)
    made = built(scene)
    expected = 255 * (0.7 * BARE_WOOD + 0.3 * np.array(made.members[0].finish.color))
    for element in elements:
        cut = Cut(made, element)
        assert len(cut.sections) == members
        for turned in (False, True):
            grid, color = looked_at(page, cut, turned=turned)
            points = shapely.points(grid)
            inside = np.any([shapely.contains(section, points) for section in cut.sections], axis=0)
            clear = np.min([shapely.distance(section.exterior, points) for section in cut.sections], axis=0) > EDGE
            assert (inside & clear).sum() > 250
            assert (~inside & clear).sum() > 500
            wood = np.unique(color[inside & clear], axis=0)
            assert len(wood) == 1, f"{len(wood)} colors in one cut: {wood.tolist()}"
            assert np.abs(wood[0] - expected).max() <= 1
            wrong = (color == wood[0]).all(axis=1) != inside
            assert not (wrong & clear).any(), grid[wrong & clear].tolist()


def test_hatches_of_members_that_meet_lean_against_each_other(opened: Opener, page_of: PageOf) -> None:
    """Along a hatch line the color stays, so the two diagonals tell which way a member is hatched."""
    page = opened(plain(page_of("cornice")), WINDOW)
    cut = Cut(built("cornice"), 2)
    looked_at(page, cut, turned=False)
    gray = picture(page).astype(float).sum(axis=2)
    origin = np.array(page.evaluate("window.__preview.document.origin"))
    leans = []
    for section in cut.sections:
        low, high = np.array(section.bounds[:2]), np.array(section.bounds[2:])
        spread = np.random.default_rng(5).uniform(low, high, (4000, 2))
        deep = spread[shapely.contains(section.buffer(-4.0), shapely.points(spread))]
        assert len(deep) > 40
        x, y = np.floor(places(page, (cut.space(deep) - origin).tolist())).astype(int).T
        change = [float(np.abs(gray[y, x] - gray[y + 3 * down, x + 3]).mean()) for down in (1, -1)]
        assert max(change) > 1.5 * min(change), change
        leans.append(change[0] < change[1])
    assert all(one != next_ for one, next_ in pairwise(leans)), leans


def test_cut_at_a_joint_stands_clear_of_it(opened: Opener, page_of: PageOf) -> None:
    """Where a straight meets a turned piece the section is whole, though the ends' faces lie in the plane asked for."""
    page = opened(plain(page_of("window-seat"), "plain-cap"), WINDOW)
    made = built("window-seat")
    for off in (0.0, 0.3, -0.3):
        cut = Cut(made, 0)
        length = made.scene.runs[0].run.elements[0].length
        cut.at = cut.at + (length / 2 + off) * cut.travel
        cut.station = length + off
        grid, color = looked_at(page, cut, turned=False)
        deep = shapely.contains(cut.sections[0].buffer(-EDGE), shapely.points(grid))
        assert deep.sum() > 250
        assert len(np.unique(color[deep], axis=0)) == 1
