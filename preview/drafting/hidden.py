"""Which parts of lines can be seen: worked out exactly, with nothing sampled.

A triangle hides what lies in its shadow as seen from the looker: inside three planes through its sides (along the view,
or through the eye) and behind its own plane. All four are linear in space, with and without an eye, so the part of a
line that a triangle hides is one interval in closed form. The intervals of all triangles are united; the rest is seen.

Only triangles that face the looker count, since a closed body hides nothing with its far side that its near side does
not. A surface does not hide its own lines, since a point must lie behind a triangle's plane by more than rounding.
Shadows are a little wider than they are, so that nothing is seen through the seam of two triangles; what lies exactly
behind the border of something nearer is hidden, and that border is drawn in its place.

Beyond a border (an edge with one triangle that faces the looker) lies what is farther away. It is an outline where
nothing of the same body, or of one joined to it, lies close behind, and nothing stands before: again an interval for
each triangle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from preview.drafting.intervals import Intervals
from preview.drafting.overlaps import Boxes, boxes_of, overlapping
from preview.drafting.views import NEAREST, View

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
StrokeKind = Literal["arris", "rim", "joint", "silhouette", "around"]
Box2 = tuple[float, float, float, float]
"""(least x, least y, largest x, largest y) in the picture: mm, or tangents where the view has an eye."""

ROUNDING = 1e-6
"""Distances below this, mm, are none within one body."""
SEAM = 1e-8
"""By how much, mm, shadows are taken wider on each side."""
TINY, TINY_FROM_EYE = 1e-5, 1e-8
"""A hidden part of a line that is shorter than this in the picture (mm, tangents) breaks nothing."""
TOUCHING = 1e-3
"""A line of one body must lie further than this, mm, behind another's surface to be hidden by it."""
EDGE_ON = 1e-7
"""A triangle seen under a smaller angle, radians, is seen edge-on and hides nothing."""
SLIVER = 1e-5
"""A triangle less high than this, mm, has no direction of its own: its surface's normals say how it lies."""
ASIDE = 1e-3
"""How far, mm, beside a border one looks for what lies behind it."""
CLOSE = 0.05
"""What lies less than this, mm, behind a border touches there, whatever body it belongs to."""
BLOCK = 300_000
"""How many pairs of a line and a triangle are worked out at a time."""


@dataclass(frozen=True)
class Skin:
    """The surfaces of a job, for hiding: triangles (t, 3) into points (p, 3), mm, counter-clockwise from outside.

    Each is part of a body (t,), by number. normals (t, 3, 3): the true surface's, at each corner. slack (b,): how far,
    mm, a body's facets may stand before what touches its true surface. reach (b,): how far, mm, behind its own border a
    body, or one that is joined to it (b, b), still counts as the same thing.
    A sheet hides from the side that its triangles face, and only from there.
    """

    points: Floats
    triangles: Ints
    normals: Floats
    body: Ints
    slack: Floats
    reach: Floats
    joined: Bools

    @cached_property
    def mates(self) -> tuple[Ints, Ints]:
        """The edges (e, 2) of the surface by point, and the triangles (e, 2) beside each; -1 where there is but one."""
        count = len(self.triangles)
        first, last = self.triangles.ravel(), np.roll(self.triangles, -1, axis=1).ravel()
        low, high = np.minimum(first, last), np.maximum(first, last)
        key = low * len(self.points) + high
        triangle = np.repeat(np.arange(count), 3)
        order = np.argsort(key, kind="stable")
        key, triangle = key[order], triangle[order]
        fresh = np.append(True, key[1:] != key[:-1]) if count else np.empty(0, dtype=np.bool_)
        start = np.flatnonzero(fresh)
        # Where more than two meet they are taken in pairs.
        place = np.arange(len(key)) - np.repeat(start, np.diff(np.append(start, len(key))))
        ones = np.flatnonzero(place % 2 == 0)
        follows = np.append(place[1:] % 2 == 1, False)[ones]
        beside = np.column_stack([triangle[ones], np.where(follows, triangle[np.minimum(ones + 1, len(key) - 1)], -1)])
        return np.column_stack(np.divmod(key[ones], len(self.points))), beside

    @cached_property
    def planes(self) -> Floats:
        """The unit normals (t, 3) of the triangles, outward; of slivers the true surface's."""
        a, b, c = (self.points[self.triangles[:, i]] for i in range(3))
        square = np.cross(b - a, c - a)
        twice = np.linalg.norm(square, axis=1, keepdims=True)
        longest = np.max([np.linalg.norm(side, axis=1) for side in (b - a, c - b, a - c)], axis=0)[:, None]
        mean = self.normals.sum(axis=1)
        mean /= np.linalg.norm(mean, axis=1, keepdims=True) + 1e-300
        found: Floats = np.where(twice > SLIVER * longest, square / np.maximum(twice, 1e-300), mean)
        return found

    def facing(self, view: View) -> Bools:
        """Which triangles (t,) face the looker."""
        toward = view.toward(self.points[self.triangles[:, 0]])
        across = np.einsum("ij,ij->i", self.planes, toward)
        found: Bools = across > EDGE_ON * np.linalg.norm(toward, axis=1)
        return found


@dataclass(frozen=True)
class Stroke3:
    """A line that may be drawn: a polyline (n, 3) in space, mm, on a body of the skin.

    kind: an arris; the rim of an end; a joint where two pieces meet flush; the silhouette of a round; or a line of what
    stands around. smooth: a joint across which the surface runs on. beyond (n - 1, 3): at a border of what
    faces the looker, the direction in which it ends; 0 elsewhere. piece: its number in `built.pieces`.
    """

    points: Floats
    kind: StrokeKind
    body: int
    piece: int | None = None
    smooth: bool = False
    beyond: Floats | None = None


@dataclass(frozen=True)
class Seen:
    """A part of a line that can be seen: a polyline (n, 2) in the picture, mm (tangents where the view has an eye).

    outline: beyond it lies something farther away, or nothing; drawn heavier. smooth: a joint that only the seam
    shows; drawn thinner.
    """

    points: Floats
    kind: StrokeKind
    piece: int | None
    outline: bool
    smooth: bool = False


@dataclass(frozen=True)
class _Segments:
    """Straight parts of strokes, in the view's own axes: ends (m, 3), what is in the picture of them (m,) of 0 to 1."""

    first: Floats
    last: Floats
    low: Floats
    high: Floats
    stroke: Ints
    body: Ints
    beyond: Floats

    @property
    def border(self) -> Bools:
        """Which of them (m,) something of their own body ends at."""
        found: Bools = np.abs(self.beyond).max(axis=1, initial=0.0) > 0.0
        return found

    def at(self, which: Ints, t: Floats) -> Floats:
        """Points (k, 3) at fractions t of segments."""
        start, stop, at = self.first[which], self.last[which], t[:, None]
        return np.where(at == 1.0, stop, start + at * (stop - start))


@dataclass(frozen=True)
class _Shadows:
    """The triangles that face the looker, in the view's own axes.

    planes (f, 4, 4): the four planes of each one's shadow, three through its sides and its own; a point (x, y, z) lies
    (a, b, c) . (x, y, z) + d mm inside each. corners (f, 3, 3).
    """

    planes: Floats
    body: Ints
    corners: Floats


def visible(
    view: View, skin: Skin, strokes: Sequence[Stroke3], clip: Box2 | None = None, least: float = 0.0
) -> list[Seen]:
    """The parts of lines that nothing hides, in the lines' order, cut to a box of the picture.

    least: what is shorter in the picture is left out.
    """
    segments = _segments(view, strokes, clip)
    if not len(segments.first):
        return []
    shadows = _shadows(view, skin, clip)
    hidden, backed = _intervals(view, skin, segments, shadows)
    whole = Intervals(np.arange(len(segments.low)), segments.low, segments.high).kept(segments.high > segments.low)
    seen = whole.rest(hidden)
    outlined = seen.kept(segments.border[seen.line]).rest(backed)
    plain = seen.rest(outlined)
    return _drawn(view, segments, strokes, plain, outlined, least)


def _segments(view: View, strokes: Sequence[Stroke3], clip: Box2 | None) -> _Segments:
    counts = np.array([len(stroke.points) - 1 for stroke in strokes], dtype=np.int64)
    number = np.repeat(np.arange(len(strokes)), counts)
    if not len(number):
        none = np.empty((0, 3))
        return _Segments(none, none, np.empty(0), np.empty(0), number, number, none)
    first = view.inside(np.concatenate([stroke.points[:-1] for stroke in strokes]))
    last = view.inside(np.concatenate([stroke.points[1:] for stroke in strokes]))
    beyond = np.concatenate(
        [np.zeros((len(s.points) - 1, 3)) if s.beyond is None else s.beyond @ view.axes.T for s in strokes]
    )
    body = np.array([stroke.body for stroke in strokes], dtype=np.int64)[number]
    # The picture's four sides and the nearest depth are planes: each keeps a stretch of every segment.
    limits: list[tuple[float, float, float, float]] = []
    eye = view.eye is not None
    if eye:
        limits.append((0.0, 0.0, 1.0, -NEAREST))
    if clip is not None:
        x0, y0, x1, y1 = clip
        for a, b, c in ((1.0, 0.0, -x0), (0.0, 1.0, -y0), (-1.0, 0.0, x1), (0.0, -1.0, y1)):
            limits.append((a, b, c, 0.0) if eye else (a, b, 0.0, c))
    low, high = np.zeros(len(first)), np.ones(len(first))
    for a, b, c, d in limits:
        square = np.array([a, b, c])
        low, high = _narrowed(low, high, first @ square + d, last @ square + d)
    return _Segments(first, last, low, high, number, body, beyond)


def _narrowed(low: Floats, high: Floats, start: Floats, stop: Floats) -> tuple[Floats, Floats]:
    """The part of each interval where a linear function, given at 0 and at 1, is above 0."""
    change = stop - start
    with np.errstate(divide="ignore", invalid="ignore"):
        zero = -start / change
    low = np.where(change > 0, np.maximum(low, zero), low)
    high = np.where(change < 0, np.minimum(high, zero), high)
    return low, np.where((change == 0) & (start <= 0), low - 1.0, high)


def _shadows(view: View, skin: Skin, clip: Box2 | None) -> _Shadows:
    facing = skin.facing(view)
    which = np.flatnonzero(facing)
    corners = view.inside(skin.points)[skin.triangles[which]]
    if clip is not None:
        near = _extents(view, corners).meet(clip)
        which, corners = which[near], corners[near]
    own = skin.planes[which] @ view.axes.T
    planes = np.empty((len(which), 4, 4))
    planes[:, 3, :3] = -own
    planes[:, 3, 3] = np.einsum("ij,ij->i", own, corners[:, 0])
    for i in range(3):
        v, w, other = corners[:, i], corners[:, (i + 1) % 3], corners[:, (i + 2) % 3]
        square = np.cross(w - v, (0.0, 0.0, 1.0)) if view.eye is None else np.cross(v, w)
        square /= np.linalg.norm(square, axis=1, keepdims=True) + 1e-300
        square *= np.sign(np.einsum("ij,ij->i", square, other - v))[:, None]
        planes[:, i, :3] = square
        planes[:, i, 3] = -np.einsum("ij,ij->i", square, v)
    return _Shadows(planes, skin.body[which], corners)


def _intervals(view: View, skin: Skin, segments: _Segments, shadows: _Shadows) -> tuple[Intervals, Intervals]:
    """What is hidden of segments, and before what of them something of the same body stands close behind."""
    boxes = _boxes(view, segments)
    lengths = np.linalg.norm(segments.last - segments.first, axis=1)
    near = 2 * ROUNDING / np.maximum(lengths, ROUNDING)
    borders = segments.border
    hidden: list[Intervals] = []
    backed: list[Intervals] = []
    for line, triangle in overlapping(boxes, _extents(view, shadows.corners), BLOCK):
        planes = shadows.planes[triangle]
        start = np.einsum("kij,kj->ki", planes[:, :, :3], segments.first[line]) + planes[:, :, 3]
        stop = np.einsum("kij,kj->ki", planes[:, :, :3], segments.last[line]) + planes[:, :, 3]
        mine, theirs = segments.body[line], shadows.body[triangle]
        behind = np.where(mine == theirs, ROUNDING, TOUCHING + skin.slack[theirs])
        low, high = segments.low[line], segments.high[line]
        for i in range(3):
            low, high = _narrowed(low, high, start[:, i] + SEAM, stop[:, i] + SEAM)
        low, high = _narrowed(low, high, start[:, 3] - behind, stop[:, 3] - behind)
        hidden.append(Intervals(line, low, high).kept(high > low))

        border = borders[line]
        line, triangle, mine, theirs = line[border], triangle[border], mine[border], theirs[border]
        start, stop, planes = start[border], stop[border], planes[border]
        aside = ASIDE * np.einsum("kij,kj->ki", planes[:, :, :3], segments.beyond[line])
        steep = np.abs(_along(view, shadows.corners[triangle].mean(axis=1), planes[:, 3, :3]))
        family = skin.joined[mine, theirs]
        deep = steep * np.where(family, skin.reach[mine], CLOSE + skin.slack[theirs])
        low, high = segments.low[line], segments.high[line]
        for i in range(3):
            low, high = _narrowed(low, high, start[:, i] + aside[:, i], stop[:, i] + aside[:, i])
        low, high = _narrowed(low, high, start[:, 3] + deep, stop[:, 3] + deep)
        backed.append(Intervals(line, low, high).kept(high > low))
    close = np.maximum(near, 4 * ASIDE / np.maximum(lengths, ASIDE))
    behind_all = Intervals.all_of(backed).united(close)
    long = (behind_all.stop - behind_all.start) > close[behind_all.line]
    found = _to_ends(Intervals.all_of(hidden), near).united(near)
    flat = _drawn_lengths(view, segments, found)
    wide = flat > (TINY if view.eye is None else TINY_FROM_EYE)
    return found.kept(wide | (found.stop - found.start > 0.5)), behind_all.kept(long)


def _drawn_lengths(view: View, segments: _Segments, parts: Intervals) -> Floats:
    """How long parts of segments are in the picture."""
    ends = [view.flattened(segments.at(parts.line, at))[:, :2] for at in (parts.start, parts.stop)]
    found: Floats = np.linalg.norm(ends[1] - ends[0], axis=1)
    return found


def _to_ends(parts: Intervals, near: Floats) -> Intervals:
    """Parts that come as near as that to an end of their line, let go on to it."""
    close = near[parts.line]
    start = np.where(parts.start < close, 0.0, parts.start)
    return Intervals(parts.line, start, np.where(parts.stop > 1.0 - close, 1.0, parts.stop))


def _along(view: View, at: Floats, squares: Floats) -> Floats:
    """The cosines (k,) between the line of sight through points (k, 3) and unit directions (k, 3)."""
    if view.eye is None:
        return squares[:, 2]
    sight = at / np.linalg.norm(at, axis=1, keepdims=True)
    found: Floats = np.einsum("ij,ij->i", sight, squares)
    return found


def _boxes(view: View, segments: _Segments) -> Boxes:
    """Boxes round the segments in the picture; of those with nothing in it, empty ones."""
    which = np.arange(len(segments.low))
    inside = segments.high > segments.low
    t0, t1 = np.where(inside, segments.low, 0.0), np.where(inside, segments.high, 0.0)
    ends = np.stack([segments.at(which, t0), segments.at(which, t1)], axis=1)
    if view.eye is not None:
        ends[~inside] = (0.0, 0.0, 1.0)
    flat = view.flattened(ends.reshape(-1, 3)).reshape(-1, 2, 3)
    return boxes_of(flat[..., :2], ~inside, np.zeros(len(which), dtype=np.bool_))


def _extents(view: View, corners: Floats) -> Boxes:
    """Boxes round triangles (f, 3, 3) in the picture; without limits for those that reach behind the eye."""
    none = np.zeros(len(corners), dtype=np.bool_)
    if view.eye is None:
        return boxes_of(corners[..., :2], none, none)
    near = corners[..., 2].min(axis=1) < NEAREST / 2
    corners = np.where(near[:, None, None], 1.0, corners)
    flat = view.flattened(corners.reshape(-1, 3)).reshape(-1, 3, 3)
    return boxes_of(flat[..., :2], none, near)


def _drawn(
    view: View, segments: _Segments, strokes: Sequence[Stroke3], plain: Intervals, outlined: Intervals, least: float
) -> list[Seen]:
    """The seen parts as polylines: those that go on from one segment of a stroke to the next are one."""
    parts = Intervals.all_of([plain, outlined])
    heavy = np.append(np.zeros(len(plain.line), dtype=np.bool_), np.ones(len(outlined.line), dtype=np.bool_))
    order = np.lexsort((parts.start, parts.line))
    parts, heavy = Intervals(parts.line[order], parts.start[order], parts.stop[order]), heavy[order]
    if not len(parts.line):
        return []
    starts = view.flattened(segments.at(parts.line, parts.start))[:, :2]
    stops = view.flattened(segments.at(parts.line, parts.stop))[:, :2]
    stroke = segments.stroke[parts.line]
    goes_on = (
        (stroke[1:] == stroke[:-1])
        & (heavy[1:] == heavy[:-1])
        & (parts.line[1:] == parts.line[:-1] + 1)
        & (parts.stop[:-1] >= 1.0)
        & (parts.start[1:] <= 0.0)
    )
    first = np.flatnonzero(np.append(True, ~goes_on))
    found: list[Seen] = []
    for a, b in zip(first.tolist(), np.append(first[1:], len(stroke)).tolist(), strict=True):
        points = np.vstack([starts[a : a + 1], stops[a:b]])
        if np.linalg.norm(np.diff(points, axis=0), axis=1).sum() <= least:
            continue
        of = strokes[int(stroke[a])]
        found.append(Seen(points, of.kind, of.piece, bool(heavy[a]), of.smooth))
    return found
