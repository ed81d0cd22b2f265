"""The lines of a job that a drawing shows.

Candidates are edges of a fine mesh whose points lie on the true surfaces: those where the true surface turns a corner
(arrises of the profile, rims of ends), those where two pieces meet, and, on rounds, those between a facet that faces
the looker and one that does not: the silhouette, as near to the true one as the mesh's chord. The visible part of each
is exact for that mesh, so a surface never hides its own silhouette, and lines close where they should.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.drafting.hidden import ROUNDING, Box2, Seen, Skin, Stroke3, StrokeKind, visible
from preview.drafting.skins import JobSkin, skin_of
from preview.drafting.views import View

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

CREASE = np.cos(np.radians(2.0))
"""Surfaces whose normals differ by more than 2 degrees meet in an arris, as everywhere in this project."""
ON_PAPER = 0.01
"""How far, mm on paper, a drawn curve may stray from its true line."""
FINEST, COARSEST = 0.002, 0.5
"""The chord, mm, stays within these whatever the scale."""
KINDS: tuple[StrokeKind, ...] = ("arris", "rim", "joint", "silhouette", "around")
ARRIS, RIM, JOINT, SILHOUETTE, AROUND = range(5)


def seen_lines(
    built: Built,
    view: View,
    *,
    pieces: Collection[int] | None = None,
    around: bool = True,
    clip: Box2 | None = None,
    scale: float = 0.25,
) -> list[Seen]:
    """The lines that are seen in a view of a job, in the picture's plane.

    pieces: the numbers (in `built.pieces`) of those that are there at all; None: all. around: whether what stands
    around them is there, hides and is drawn. clip: the box of the picture that is wanted. scale: mm on paper for one
    mm; curves stray from their true line by at most 0.01 mm on paper, and what is shorter than that is left out. Seen
    from an eye, a scale of 1 keeps them within 0.01 mm in space.
    """
    chord = min(max(ON_PAPER / scale, FINEST), COARSEST)
    job = skin_of(built, chord, pieces, around)
    least = chord if view.eye is None else 0.0
    return visible(view, job.skin, strokes_of(job, view), clip, least)


def strokes_of(job: JobSkin, view: View) -> list[Stroke3]:
    """The lines that a view of a job may show, before any is hidden."""
    skin = job.skin
    if not len(skin.triangles):
        return []
    edges, beside = skin.mates
    alone = beside[:, 1] < 0
    faces = skin.facing(view)[beside]
    faces[alone, 1] = False
    body = skin.body[beside]
    body[alone, 1] = body[alone, 0]
    is_end = job.is_end[beside]
    is_end[alone, 1] = is_end[alone, 0]
    turned = _turns(skin, edges, beside) | alone
    joint = body[:, 0] != body[:, 1]
    kind = np.where(turned, np.where(is_end[:, 0] != is_end[:, 1], RIM, ARRIS), SILHOUETTE)
    kind[joint] = JOINT
    runs_on = _runs_on(body, turned, len(job.pieces)) & joint
    # Where one side is turned away the edge is a border of what is seen; in a hollow the other side stands before it.
    border = (faces[:, 0] != faces[:, 1]) & ~_hollow(skin, edges, beside)
    kept = border | (faces.all(axis=1) & (kind != SILHOUETTE))
    kind[border & joint & ~turned] = SILHOUETTE
    kind[job.pieces[body[:, 0]] < 0] = AROUND
    which = np.flatnonzero(kept)
    edges, beside, kind, body, border = edges[which], beside[which], kind[which], body[which].min(axis=1), border[which]
    smooth = (kind == JOINT) & runs_on[which]
    seen_side = np.where(faces[which, 0], beside[:, 0], beside[:, 1])
    beyond = np.where(border[:, None], _beyond(skin, view, edges, seen_side), 0.0)
    found: list[Stroke3] = []
    group = (body * len(KINDS) + kind) * 2 + smooth
    for chain, along in _chains(edges, group):
        first = along[0]
        piece = int(job.pieces[body[first]])
        found.append(
            Stroke3(
                skin.points[chain],
                KINDS[int(kind[first])],
                int(body[first]),
                piece if piece >= 0 else None,
                bool(smooth[first]),
                beyond[along],
            )
        )
    return found


def _turns(skin: Skin, edges: Ints, beside: Ints) -> Bools:
    """Whether the true surface turns a corner at each edge: at either end its normals on the two sides differ."""
    found = np.zeros(len(edges), dtype=np.bool_)
    both = np.flatnonzero(beside[:, 1] >= 0)
    for end in (0, 1):
        sides = []
        for side in (0, 1):
            triangle = beside[both, side]
            corner = np.argmax(skin.triangles[triangle] == edges[both, end, None], axis=1)
            sides.append(skin.normals[triangle, corner])
        found[both] |= np.einsum("ij,ij->i", *sides) < CREASE
    return found


def _runs_on(body: Ints, turned: Bools, count: int) -> Bools:
    """Whether nothing of the surface turns all along the joint that an edge is part of."""
    pair = body.min(axis=1) * count + body.max(axis=1)
    return ~np.isin(pair, pair[turned])


def _hollow(skin: Skin, edges: Ints, beside: Ints) -> Bools:
    """Whether the surface is hollow at each edge: one side's triangle stands before the other's."""
    found = np.zeros(len(edges), dtype=np.bool_)
    both = np.flatnonzero(beside[:, 1] >= 0)
    other = skin.triangles[beside[both, 1]].sum(axis=1) - edges[both].sum(axis=1)
    away = skin.points[other] - skin.points[edges[both, 0]]
    found[both] = np.einsum("ij,ij->i", skin.planes[beside[both, 0]], away) > ROUNDING
    return found


def _beyond(skin: Skin, view: View, edges: Ints, triangle: Ints) -> Floats:
    """The unit directions (e, 3), square to the line of sight, in which triangles end at an edge of theirs."""
    a, b = skin.points[edges[:, 0]], skin.points[edges[:, 1]]
    inside = skin.points[skin.triangles[triangle]].mean(axis=1)
    aside = np.cross(view.toward((a + b) / 2), b - a)
    aside /= np.linalg.norm(aside, axis=1, keepdims=True) + 1e-300
    away: Floats = aside * -np.sign(np.einsum("ij,ij->i", aside, inside - a))[:, None]
    return away


def _chains(edges: Ints, group: Ints) -> list[tuple[list[int], list[int]]]:
    """Edges (e, 2) of one group as polylines: the points of each, and the edges it goes along.

    They go on where just two edges of a group meet.
    """
    meeting: dict[tuple[int, int], list[int]] = {}
    ends = edges.tolist()
    groups = group.tolist()
    for number, (a, b) in enumerate(ends):
        meeting.setdefault((groups[number], a), []).append(number)
        meeting.setdefault((groups[number], b), []).append(number)
    used = [False] * len(ends)

    def walk(number: int, at: int) -> tuple[list[int], list[int]]:
        points, along = [at], []
        of = groups[number]
        while not used[number]:
            used[number] = True
            a, b = ends[number]
            at = b if at == a else a
            points.append(at)
            along.append(number)
            here = meeting[of, at]
            if len(here) != 2:
                break
            number = here[1] if here[0] == number else here[0]
        return points, along

    found: list[tuple[list[int], list[int]]] = []
    for (_, at), here in meeting.items():
        if len(here) != 2:
            found += [walk(number, at) for number in here if not used[number]]
    found += [walk(number, ends[number][0]) for number in range(len(ends)) if not used[number]]
    return found
