"""Thin shells between two arcs, and where a profile that reaches behind the wall does so, by hand."""

from __future__ import annotations

import math

import pytest

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, make_profile, thin_webs

QUARTER = math.pi / 2


def arch(outer: float, inner: float) -> list[Edge]:
    """A quarter ring round (0, 0), its upper end on the wall: the hollow comes first, going round from the back."""
    return [
        Line((0.0, outer), (0.0, inner)),
        Arc((0.0, inner), (inner, 0.0), (0.0, 0.0), -QUARTER),
        Line((inner, 0.0), (outer, 0.0)),
        Arc((outer, 0.0), (0.0, outer), (0.0, 0.0), QUARTER),
    ]


def trough(outer: float, inner: float) -> list[Edge]:
    """A quarter ring round (0, outer), its lower end on the wall: the round comes first."""
    return [
        Line((0.0, outer - inner), (0.0, 0.0)),
        Arc((0.0, 0.0), (outer, outer), (0.0, outer), QUARTER),
        Line((outer, outer), (inner, outer)),
        Arc((inner, outer), (0.0, outer - inner), (0.0, outer), -QUARTER),
    ]


@pytest.mark.parametrize("shell", [arch, trough])
def test_a_shell_is_one_web_half_way_round(shell) -> None:
    """Radii 20 and 17 mm: 3 mm thick, and its middle at 45 degrees, 18.5 mm from the center."""
    profile = make_profile("shell", shell(20.0, 17.0))
    (web,) = thin_webs(profile, 3.125)
    assert web.thickness == pytest.approx(3.0, abs=1e-12)
    away = 18.5 * math.sqrt(0.5)
    assert web.at == pytest.approx((away, away if shell is arch else 20.0 - away), abs=1e-9)
    assert thin_webs(profile, 2.999) == ()


@pytest.mark.parametrize(
    ("edges", "place", "deep"),
    [
        # A quarter round that rises to a point 2 mm behind the wall: it is deepest there, not level with its center.
        (
            [
                Line((0.0, 0.0), (8.0, 0.0)),
                Arc((8.0, 0.0), (-2.0, 10.0), (-2.0, 0.0), QUARTER),
                Line((-2.0, 10.0), (0.0, 6.0)),
                Line((0.0, 6.0), (0.0, 0.0)),
            ],
            "2 mm behind the wall, 10 mm up",
            "2 mm",
        ),
        # Half a circle of radius 3 that bulges through the wall: deepest at its middle, (-3, 8).
        (
            [
                Line((0.0, 0.0), (20.0, 0.0)),
                Line((20.0, 0.0), (20.0, 11.0)),
                Line((20.0, 11.0), (0.0, 11.0)),
                Arc((0.0, 11.0), (0.0, 5.0), (0.0, 8.0), math.pi),
                Line((0.0, 5.0), (0.0, 0.0)),
            ],
            "3 mm behind the wall, 8 mm up",
            "3 mm",
        ),
    ],
    ids=["at an end", "where it turns back"],
)
def test_where_an_arc_is_deepest_behind_the_wall(edges: list[Edge], place: str, deep: str) -> None:
    with pytest.raises(PreviewError) as refused:
        make_profile("behind", edges)
    assert f"partly behind the wall: at {place}" in str(refused.value)
    assert f"move the profile out by {deep}," in str(refused.value)


def test_an_inside_corner_is_a_web_off_a_round_by_the_radius() -> None:
    """A groove's point at (22, 22), half a circle of radius 20 round (5, 20): 20 - |(17, 2)| of wood, by the radius."""
    profile = make_profile(
        "grooved round",
        [
            Line((0.0, 0.0), (5.0, 0.0)),
            Arc((5.0, 0.0), (5.0, 40.0), (5.0, 20.0), math.pi),
            Line((5.0, 40.0), (0.0, 40.0)),
            Line((0.0, 40.0), (0.0, 25.0)),
            Line((0.0, 25.0), (22.0, 22.0)),
            Line((22.0, 22.0), (0.0, 15.0)),
            Line((0.0, 15.0), (0.0, 0.0)),
        ],
    )
    (web,) = thin_webs(profile)
    away = math.hypot(17.0, 2.0)
    assert web.thickness == pytest.approx(20.0 - away, abs=1e-9)
    half = (20.0 + away) / 2 / away
    assert web.at == pytest.approx((5.0 + 17.0 * half, 20.0 + 2.0 * half), abs=1e-9)


def test_a_sloping_wall_is_a_web_half_way_along() -> None:
    """A strip that rises 4 for 3 out, 3.75 mm wide on the level: 3 mm thick, side by side from 2.25 mm on."""
    corners = [(0, 0), (20, 0), (20, 10), (13.75, 10), (43.75, 50), (40, 50), (10, 10), (0, 10)]
    lines = [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    (web,) = thin_webs(make_profile("leaning", lines), 3.1)
    assert web.thickness == pytest.approx(3.0, abs=1e-12)
    assert web.at == pytest.approx((26.875, 30.0), abs=1e-9)


@pytest.mark.parametrize(
    "there_and_back",
    [[(30.0, 0.0), (20.0, 0.0)], [(20.0, 0.0), (20.0, 60.0)], [(30.0, 10.0), (24.0, 8.0)]],
    ids=["level", "upright", "aslant"],
)
def test_a_spike_is_no_outline(there_and_back: list[tuple[float, float]]) -> None:
    """Past the next corner and straight back the same way."""
    corners = [(0.0, 0.0), *there_and_back, (20.0, 40.0), (0.0, 40.0)]
    lines = [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    with pytest.raises(PreviewError, match="turns straight back on itself"):
        make_profile("spike", lines)
