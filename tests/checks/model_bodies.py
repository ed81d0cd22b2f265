"""Bodies made for the inspection of any model, with cuts and faults that are known exactly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from preview.checks import Body

Array = np.ndarray

BASE = ((0, 0), (18, 0), (18, 60), (14, 66), (14, 70), (10, 78), (6, 80), (6, 90), (0, 90))
"""A base of flats, out and up, counter-clockwise, mm: no curve, so nothing that facets could hide."""


def fan(count: int, first: int = 0) -> list[tuple[int, int, int]]:
    return [(first, first + i, first + i + 1) for i in range(1, count - 1)]


def ears(loop: Array) -> list[tuple[int, int, int]]:
    """Triangles of a plain counter-clockwise polygon (k, 2), by cutting ears."""
    left = list(range(len(loop)))
    found = []

    def cross(a: Array, b: Array, c: Array) -> float:
        return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))

    while len(left) > 3:
        for k in range(len(left)):
            i, j, m = left[k - 1], left[k], left[(k + 1) % len(left)]
            if cross(loop[i], loop[j], loop[m]) <= 0:
                continue
            inside = (
                min(cross(loop[i], loop[j], p), cross(loop[j], loop[m], p), cross(loop[m], loop[i], p)) >= 0
                for p in (loop[q] for q in left if q not in (i, j, m))
            )
            if not any(inside):
                found.append((i, j, m))
                left.pop(k)
                break
        else:
            raise AssertionError("no ear")
    return [*found, (left[0], left[1], left[2])]


def lofted(name: str, loop: Sequence[Sequence[float]], rings: Sequence[Array]) -> Body:
    """A closed body through rings (k, 3) that follow one loop (k, 2): walls between them, a cap at both ends.

    Seen along the travel the loop runs clockwise, as (out, up) does where the room is on the left.
    """
    k = len(loop)
    caps = ears(np.array(loop, dtype=float))
    triangles: list[tuple[int, int, int]] = [*caps]
    for ring in range(len(rings) - 1):
        at = ring * k
        for i in range(k):
            j = (i + 1) % k
            triangles += [(at + j, at + i, at + k + i), (at + j, at + k + i, at + k + j)]
    last = (len(rings) - 1) * k
    triangles += [(last + a, last + c, last + b) for a, b, c in caps]
    points = np.concatenate(rings)
    body = Body(name, (), points, np.array(triangles), None, 0.0)
    return body if signed_volume(body) > 0 else flipped(body)


def straight(
    name: str,
    start: float,
    stop: float,
    loop: Sequence[Sequence[float]] = BASE,
    miter: tuple[float, float] = (0.0, 0.0),
) -> Body:
    """A straight from x = start to stop, its cuts slanting by the tangents `miter` with the projection y."""
    out, up = np.array(loop, dtype=float).T
    rings = [np.column_stack([x + slant * out, out, up]) for x, slant in zip((start, stop), miter, strict=True)]
    return lofted(name, loop, rings)


def curve(name: str, radius: float, turn: float, steps: int, loop: Sequence[Sequence[float]] = BASE) -> Body:
    """A piece that leaves x = 0 along x and turns away from the room about (0, -radius), `turn` radians in all."""
    out, up = np.array(loop, dtype=float).T
    rings = []
    for angle in np.linspace(0, turn, steps + 1):
        reach = radius + out
        rings.append(np.column_stack([reach * math.sin(angle), reach * math.cos(angle) - radius, up]))
    return lofted(name, loop, rings)


def signed_volume(body: Body) -> float:
    a, b, c = (body.vertices[body.triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def flipped(body: Body) -> Body:
    return replace(body, triangles=body.triangles[:, ::-1])


def moved(body: Body, *by: float) -> Body:
    return replace(body, vertices=body.vertices + np.array(by))


def turned(body: Body, degrees: float, axis: int, about: Sequence[float] = (0, 0, 0)) -> Body:
    """A body turned about the line through `about` along the axis x, y or z (0, 1, 2)."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    i, j = [(1, 2), (2, 0), (0, 1)][axis]
    turn = np.eye(3)
    turn[i, i], turn[i, j], turn[j, i], turn[j, j] = cos, -sin, sin, cos
    return replace(body, vertices=(body.vertices - np.array(about)) @ turn.T + np.array(about))


def without_a_triangle(body: Body) -> Body:
    return replace(body, triangles=body.triangles[1:])


def welded(name: str, bodies: Sequence[Body]) -> Body:
    """Several bodies as one heap of loose triangles, as an STL holds them, in 32-bit numbers."""
    corners = np.concatenate([body.vertices[body.triangles].reshape(-1, 3) for body in bodies]).astype(np.float32)
    step = float(np.spacing(np.abs(corners).max()))
    return Body(name, (), corners.astype(float), np.arange(len(corners)).reshape(-1, 3), None, step)
