"""Two straights at an inside corner, one of them coped, for the tests of ends that follow a face.

The frames are laid out here from the corner's angle alone; `out_from_other` measures a point against the other wall by
a dot product, so it shares no formula with the joinery.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from preview.joinery import WALL, Faced, FacedStraight, FaceLine, Frame, cope, face_line, plane_cut, self_return
from preview.models.mesh import FacedSection
from preview.profiles import Arc, Line, Profile, arc_through, make_profile
from preview.scene import load_profile
from strategies import profiles

Floats = NDArray[np.float64]
FILES = sorted((Path(__file__).parent.parent / "profiles").glob("*.toml"))
NAMES = [path.stem for path in FILES]
CORNER = (310.0, -120.0, 35.0)
LONG = 700.0
turns = st.floats(math.radians(30), math.radians(150))


def shipped(name: str) -> Profile:
    """A profile that ships, by its file's name."""
    return load_profile(FILES[NAMES.index(name)])


def polygon(*points: tuple[float, float]) -> Profile:
    """A profile of straight lines."""
    return make_profile("polygon", [Line(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)])


def lipped() -> Profile:
    """A face with a lip that hangs 8 mm down in front of a channel 6 mm wide and 20 mm high: 12 mm are hidden."""
    return polygon((0, 0), (10, 0), (10, 20), (16, 20), (16, 12), (22, 12), (22, 40), (0, 40))


def quirked_round(radius: float = 8.0, sweep: float = 1.5 * math.pi, neck: float = 6.0) -> Profile:
    """More than half a circle on a neck: where it comes back in it hides the neck behind it, below and above.

    The round's center is 14 mm out and 20 mm up.
    """
    away, up = radius * math.cos(math.pi - sweep / 2), radius * math.sin(sweep / 2)
    low, high = (14.0 - away, 20.0 - up), (14.0 - away, 20.0 + up)
    return make_profile(
        "quirked round",
        [
            Line((0.0, 0.0), (12.0, 0.0)),
            Line((12.0, 0.0), (neck, low[1])),
            Line((neck, low[1]), low),
            Arc(low, high, (14.0, 20.0), sweep),
            Line(high, (neck, high[1])),
            Line((neck, high[1]), (0.0, 40.0)),
            Line((0.0, 40.0), (0.0, 0.0)),
        ],
    )


def hollow_neck() -> Profile:
    """The quirked round on a neck that is hollow: behind the round's lower side stands a round of another kind."""
    round_ = quirked_round()
    foot, neck, *others = round_.edges
    hollow = arc_through(neck.start, (7.5, 8.0), neck.end)
    return make_profile("hollow neck", [foot, hollow, *others])


@st.composite
def undercut(draw: st.DrawFn) -> Profile:
    """A profile whose face hides a part of itself: a hanging lip, or a round on a neck."""
    if draw(st.booleans()):
        neck, wide, lip = (draw(st.integers(1, 12)) * 1.0 for _ in range(3))
        foot, drop, top = (draw(st.integers(1, 15)) * 1.0 for _ in range(3))
        inner, rise = neck + 3.0, foot + drop
        outer = [
            (inner + wide, rise),
            (inner + wide, foot),
            (inner + wide + lip, foot - draw(st.sampled_from([0.0, 0.5]))),
        ]
        return polygon((0, 0), (inner, 0), (inner, rise), *outer, (inner + wide + lip, rise + top), (0, rise + top))
    if not draw(st.integers(0, 3)):
        return hollow_neck()
    radius = draw(st.floats(6.0, 11.0))
    return quirked_round(radius, math.radians(draw(st.integers(200, 290))), draw(st.floats(2.0, 5.0)))


def faces() -> st.SearchStrategy[Profile]:
    """Sound profiles of all kinds, some of them undercut."""
    return st.one_of(profiles(), profiles(), undercut())


def frame(heading: float, hand: int, origin: tuple[float, float, float]) -> Frame:
    """A level straight's frame; hand +1: the room is on the left."""
    x, y = math.cos(heading), math.sin(heading)
    return Frame(origin, (x, y, 0.0), (-hand * y, hand * x, 0.0), (0.0, 0.0, 1.0))


def pair(profile: Profile, turn: float, *, hand: int = 1, after: bool = True) -> tuple[FacedStraight, FacedStraight]:
    """The coped piece and the one that runs on to the wall; `after`: the coped one comes after the corner."""
    first = frame(0.4, hand, CORNER)
    start = tuple(np.array(CORNER) - LONG * np.array(first.travel))
    before = Frame((start[0], start[1], start[2]), first.travel, first.out, first.up)
    second = frame(0.4 + hand * turn, hand, CORNER)
    ends = (WALL, face_line(profile)) if after else (face_line(profile), WALL)
    cuts = cope(ends[0], turn, begins=False), cope(ends[1], turn, begins=True)
    pieces = (
        FacedStraight(profile, before, 0.0, plane_cut(), LONG, cuts[0]),
        FacedStraight(profile, second, 0.0, cuts[1], LONG, plane_cut()),
    )
    return (pieces[1], pieces[0]) if after else pieces


def returned(profile: Profile, *, hand: int = 1, both: bool = True) -> FacedStraight:
    """A piece with self-returns at both ends, or at its end and a scarf leaning two ways at its beginning."""
    line = face_line(profile)
    begin: Faced = self_return(line, begins=True) if both else plane_cut(0.3, -0.2)
    return FacedStraight(profile, frame(2.1, hand, CORNER), 0.0, begin, LONG, self_return(line, begins=False))


def out_from_other(other: FacedStraight, points: Floats) -> Floats:
    """How far out from the other piece's wall, and how high on its profile, points (n, 3) lie: (n, 2)."""
    away = points - np.array(other.frame.origin)
    return np.column_stack([away @ np.array(other.frame.out), away @ np.array(other.frame.up)])


def outline(profile: Profile, line: FaceLine, count: int = 400) -> Floats:
    """Points (n, 2) of a face: its outermost ones at many heights, and on both sides of every jump."""
    low, high = line.breaks[0], line.breaks[-1]
    h = np.sort(np.concatenate([np.linspace(low, high, count), line.breaks]))
    at = [np.column_stack([line.at(h, "above"), h])[h < high], np.column_stack([line.at(h, "below"), h])[h > low]]
    return np.concatenate(at)


def own(straight: FacedStraight, points: Floats) -> Floats:
    """The (station, d, h) (n, 3) of points, by dot products."""
    away = points - np.array(straight.frame.origin)
    axes = (straight.frame.travel, straight.frame.out, straight.frame.up)
    return np.column_stack([away @ np.array(axis) for axis in axes])


def near(section: FacedSection) -> float:
    """How far apart, mm, the heights of points that count as one height are; 0 but for rounding on most profiles."""
    bands = section.bands
    return float(np.abs(bands.points[:, 1] - bands.heights[bands.level]).max())
