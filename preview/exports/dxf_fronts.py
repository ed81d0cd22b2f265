"""A build-up seen from straight before it: the arrises and the contour of each member, and what of them others hide."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from preview.joinery import FaceLine, Limit, face_line, out_at
from preview.profiles import Arc, Edge, Profile

BEND = math.radians(12)
"""A face that bends by more has an arris there, as in the project's own drawings."""
JUMP = 0.02
"""mm; a face that jumps out or in by more has an arris there."""
BEHIND = 1e-6
NEAR = 0.002
"""mm that a contour may stray from the true one."""
WIDEST = math.radians(15)


@dataclass(frozen=True)
class FrontPoint:
    """A point of a face: (d, h) mm, and which of its two places is meant where an end follows a face that jumps."""

    d: float
    h: float
    side: Limit


@dataclass(frozen=True)
class ArrisLine:
    """A level line of a face. outline: whether it is the foot or the top. hidden: whether a member is before it."""

    at: FrontPoint
    outline: bool
    hidden: bool


@dataclass(frozen=True)
class Side:
    """A straight bit of a contour, from its foot up."""

    foot: FrontPoint
    top: FrontPoint
    hidden: bool


@dataclass(frozen=True)
class MemberFront:
    """What is seen of a member from straight before it."""

    arrises: tuple[ArrisLine, ...]
    contour: tuple[Side, ...]


def fronts_of(profiles: Sequence[Profile]) -> list[MemberFront]:
    """The fronts of profiles in their places, (d, h) mm."""
    faces = [face_line(profile) for profile in profiles]
    return [_front(face, [other for other in faces if other is not face]) for face in faces]


def _front(face: FaceLine, others: Sequence[FaceLine]) -> MemberFront:
    low, high = face.breaks[0], face.breaks[-1]
    foot = FrontPoint(_out(face, low, "above"), low, "above")
    top = FrontPoint(_out(face, high, "below"), high, "below")
    arrises = [ArrisLine(foot, True, _behind(others, foot.d, low, ("above",)))]
    for h in face.breaks[1:-1]:
        below, above = (_out(face, h, side) for side in ("below", "above"))
        leans = [math.atan2(*_tangent(face, h, side)) for side in ("below", "above")]
        if abs(above - below) > JUMP or abs(leans[1] - leans[0]) > BEND:
            side: Limit = "below" if below >= above else "above"
            d = max(below, above)
            arrises.append(ArrisLine(FrontPoint(d, h, side), False, _behind(others, d, h, ("below", "above"))))
    arrises.append(ArrisLine(top, True, _behind(others, top.d, high, ("below",))))
    return MemberFront(tuple(arrises), tuple(_contour(face, others)))


def _out(face: FaceLine, h: float, side: Limit) -> float:
    return float(face.at(np.array([h]), side)[0])


def _tangent(face: FaceLine, h: float, side: Limit) -> tuple[float, float]:
    d, up = face.tangents(np.array([h]), side)[0].tolist()
    return (d, up)


def _behind(others: Sequence[FaceLine], d: float, h: float, sides: Sequence[Limit]) -> bool:
    """Whether another member stands before a point, on all of the sides that count."""
    return any(min(_out(other, h, side) for side in sides) > d + BEHIND for other in others)


def _contour(face: FaceLine, others: Sequence[FaceLine]) -> list[Side]:
    low, high = face.breaks[0], face.breaks[-1]
    heights = sorted({h for each in (face, *others) for h in each.breaks if low <= h <= high})
    found: list[Side] = []
    for first, last in pairwise(heights):
        if last - first < BEHIND:
            continue
        edge = face.edge_at((first + last) / 2)
        if edge is None:
            continue
        bent = any(isinstance(other.edge_at((first + last) / 2), Arc) for other in others)
        places = _along(edge, first, last, bent)
        points = [FrontPoint(d, h, "above" if i < len(places) - 1 else "below") for i, (d, h) in enumerate(places)]
        sides = [Side(a, b, _behind(others, (a.d + b.d) / 2, (a.h + b.h) / 2, ("below",))) for a, b in pairwise(points)]
        if found and abs(found[-1].top.d - points[0].d) > BEHIND:
            outer = max((found[-1].top.d, found[-1].hidden), (points[0].d, sides[0].hidden))
            found.append(Side(found[-1].top, points[0], outer[1]))
        found += sides
    return found


def _along(edge: Edge, low: float, high: float, fine: bool) -> list[tuple[float, float]]:
    """Points (d, h) of a rising edge from one height to another."""
    if isinstance(edge, Arc):
        cy, radius = edge.center[1], edge.radius
        ends = out_at(edge, np.array([low, high]))
        first, last = (math.asin(min(max((h - cy) / radius, -1.0), 1.0)) for h in (low, high))
        step = min(2 * math.acos(max(1.0 - NEAR / radius, 0.0)), WIDEST)
        count = max(2, math.ceil((last - first) / step))
        inside = cy + radius * np.sin(np.linspace(first, last, count + 1)[1:-1])
        outs = out_at(edge, inside)
        return [(float(ends[0]), low), *zip(outs.tolist(), inside.tolist(), strict=True), (float(ends[1]), high)]
    heights = np.linspace(low, high, 25 if fine else 2)
    return list(zip(out_at(edge, heights).tolist(), heights.tolist(), strict=True))
