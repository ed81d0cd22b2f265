"""Loose triangles sorted into connected bodies, by the edges that they share.

Where two bodies touch, their end faces run through the same points, and an edge there has four triangles instead of
two. Which two of them belong together is settled in two steps:

1. In the order of the file: wherever every edge walked so far has been walked back, one or more whole bodies have
   been told, and a new one begins. This needs no geometry, and files that tell body after body are then sorted.
2. Round the edge: seen along it, wood lies between a face that looks back and the next one that looks forth. Faces
   that lie on one another end a body before they begin the next.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from preview import limits
from preview.checks.readers import Body, Floats, Ints
from preview.checks.surface import weld

MANY = "export it in parts; loose triangles are bodies too"
ALIKE = 1e-4
"""Faces round an edge nearer to each other than this, radians, lie on one another."""


@dataclass(frozen=True)
class Shell:
    """One connected body as a file holds it, its equal positions made one.

    points (p, 3) mm; triangles (t, 3). Its half-edges are counted triangle by triangle: 3 t + c runs from corner c to
    the next. twins (3 t,): the half-edge that walks the same edge back, -1 where there is none or where it cannot be
    told. open_edges: how many have none. volume mm³, signed: + when the faces look outward. step: see Body.
    """

    name: str
    points: Floats
    triangles: Ints
    twins: Ints
    open_edges: int
    volume: float
    area: float
    step: float

    @property
    def low(self) -> Floats:
        """The least corner of its box, mm."""
        return np.asarray(self.points.min(axis=0))

    @property
    def high(self) -> Floats:
        """The greatest corner of its box, mm."""
        return np.asarray(self.points.max(axis=0))


def shells(body: Body) -> tuple[list[Shell], int]:
    """The connected bodies of a mesh in the file's order, and how many triangles were left out for want of an area.

    A shell that looks inward and lies inside another is a hollow of it. Bodies of a mesh with several are numbered.
    Raises PreviewError for more of them, or more crowded edges, than the limits let be.
    """
    points, inverse = weld(body.vertices)
    triangles = inverse[body.triangles]
    a, b, c = triangles.T
    whole = (a != b) & (b != c) & (c != a)
    triangles = triangles[whole]
    if not len(triangles):
        return [], int((~whole).sum())
    twins, links = _twins(points, triangles)
    label = connected(len(triangles), links[:, 0], links[:, 1])
    limits.BODIES.refuse(len(np.unique(label)), "the model", MANY)
    order = np.argsort(label, kind="stable")
    place = np.empty(len(order), dtype=np.int64)
    cuts = np.flatnonzero(np.diff(label[order])) + 1
    found = []
    for mine in np.split(order, cuts):
        place[mine] = np.arange(len(mine))
        halves = (3 * mine[:, None] + np.arange(3)).ravel()
        theirs = twins[halves]
        own = np.where(theirs >= 0, 3 * place[theirs // 3] + theirs % 3, -1)
        kept, corner = np.unique(triangles[mine], return_inverse=True)
        found.append(_shell(body, points[kept], corner.reshape(-1, 3), own))
    found = _hollowed(found)
    if len(found) > 1:
        found = [replace(shell, name=f"{body.name} {i}") for i, shell in enumerate(found, 1)]
    return found, int((~whole).sum())


def _shell(body: Body, points: Floats, triangles: Ints, twins: Ints) -> Shell:
    centered = points - points.mean(axis=0)
    a, b, c = (centered[triangles[:, i]] for i in range(3))
    crossed = np.cross(b - a, c - a)
    volume = float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)
    area = float(np.linalg.norm(crossed, axis=1).sum() / 2)
    return Shell(body.name, points, triangles, twins, int((twins < 0).sum()), volume, area, body.step)


def connected(count: int, a: Ints, b: Ints) -> Ints:
    """A label (count,) for each of `count` things, the least index of all that links a[i]-b[i] join to it."""
    label = np.arange(count)
    while True:
        low = np.minimum(label[a], label[b])
        joined = label.copy()
        np.minimum.at(joined, label[a], low)
        np.minimum.at(joined, label[b], low)
        while True:
            further = joined[joined]
            if np.array_equal(further, joined):
                break
            joined = further
        if np.array_equal(joined, label):
            return label
        label = joined


def _twins(points: Floats, triangles: Ints) -> tuple[Ints, Ints]:
    """For each half-edge the one that walks it back (-1: none); and pairs of triangles (n, 2) of one body."""
    count = len(points)
    start, stop = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    forward = start < stop
    _, edge = np.unique(np.minimum(start, stop) * count + np.maximum(start, stop), return_inverse=True)
    stretch = np.repeat(_stretches(edge, forward, len(triangles)), 3)
    order = np.lexsort((stretch, edge))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(edge[order]) != 0) | (np.diff(stretch[order]) != 0)
    first = np.flatnonzero(new)
    size = np.diff([*first, len(order)])
    pairs = first[size == 2]
    one, other = order[pairs], order[pairs + 1]
    links = [np.column_stack([one, other])]
    facing = forward[one] != forward[other]
    twins = np.full(len(order), -1, dtype=np.int64)
    twins[one[facing]], twins[other[facing]] = other[facing], one[facing]
    limits.CROWDED.refuse(int(size[size > 2].sum()), "the model", "export its bodies one after another, each once")
    for begin, many in zip(first[size > 2].tolist(), size[size > 2].tolist(), strict=True):
        matched = _around(points, triangles, order[begin : begin + many], forward)
        if matched:
            pair = np.array(matched)
            twins[pair[:, 0]], twins[pair[:, 1]] = pair[:, 1], pair[:, 0]
            links.append(pair)
    return twins, np.concatenate(links) // 3


def _stretches(edge: Ints, forward: np.ndarray, count: int) -> Ints:
    """The number of the closed stretch of the file that each triangle (count,) stands in."""
    sign = np.where(forward, 1, -1)
    order = np.argsort(edge, kind="stable")
    walked = sign[order]
    total = np.cumsum(walked)
    new = np.ones(len(order), dtype=bool)
    new[1:] = np.diff(edge[order]) != 0
    before = (total - walked)[new]
    running = total - before[np.cumsum(new) - 1]
    change = (running == walked).astype(np.int64) - (running == 0)
    unbalanced = np.cumsum(np.bincount(order // 3, weights=change, minlength=count).astype(np.int64))
    return np.concatenate([[0], np.cumsum(unbalanced == 0)[:-1]])


def _around(points: Floats, triangles: Ints, halves: Ints, forward: np.ndarray) -> list[tuple[int, int]]:
    """Pair three or more half-edges of one edge by where their faces lie round it."""
    t, corner = halves // 3, halves % 3
    begins = np.where(forward[halves], corner, (corner + 1) % 3)
    ends = np.where(forward[halves], (corner + 1) % 3, corner)
    foot = points[triangles[t[0], begins[0]]]
    along = points[triangles[t[0], ends[0]]] - foot
    along /= np.linalg.norm(along)
    out = points[triangles[t, (corner + 2) % 3]] - foot
    out -= (out @ along)[:, None] * along
    reach = np.linalg.norm(out, axis=1)
    x = out[int(np.argmax(reach))]
    y = np.cross(along, x)
    angle = np.arctan2(out @ y, out @ x)
    noise = np.spacing(np.abs(points[triangles[t[0]]]).max().astype(np.float32))
    slack = ALIKE + np.minimum(4 * noise / np.maximum(reach, 1e-12), 0.05)
    order = np.argsort(angle, kind="stable")
    gaps = np.diff([*angle[order], angle[order[0]] + 2 * np.pi])
    order = np.roll(order, -int(np.argmax(gaps)) - 1)
    gaps = np.roll(gaps, -int(np.argmax(gaps)) - 1)
    apart = gaps[:-1] > slack[order[:-1]] + slack[order[1:]]
    cluster = np.concatenate([[0], np.cumsum(apart)])
    # A face walked forward looks on round the edge, so wood ends there; one walked back begins it.
    leaves = forward[halves[order]]
    order = order[np.lexsort((~leaves, cluster))]
    pending: list[int] = []  # in the file's order
    since: dict[int, int] = {}
    taken: set[int] = set()
    matched = []
    for half in [*halves[order].tolist()] * 2:
        if half in taken:
            continue
        if not forward[half]:
            if half not in since:
                since[half] = len(since)
                bisect.insort(pending, half)
        elif pending:
            # Where more than one is open, bodies overlap or look inward; the file's order is then the best guess.
            at = bisect.bisect(pending, half)
            begun = min(pending[max(at - 1, 0) : at + 1], key=lambda other: (abs(other - half), since[other]))
            del pending[bisect.bisect_left(pending, begun)]
            taken |= {half, begun}
            matched.append((begun, half))
    return matched


def _hollowed(found: list[Shell]) -> list[Shell]:
    """Join shells that look inward to the one they lie inside of."""
    inward = [s for s in found if s.volume < 0 and not s.open_edges]
    outward = [s for s in found if s.volume > 0 and not s.open_edges]
    if not inward or not outward:
        return found
    low, high = np.array([s.low for s in outward]), np.array([s.high for s in outward])
    hollows: dict[int, list[Shell]] = {}
    boxed = 0
    for hollow in inward:
        around = np.flatnonzero(((low < hollow.low) & (hollow.high < high)).all(axis=1)).tolist()
        boxed += len(around)
        limits.OVERLAPS.refuse(boxed, "the model", "turn the bodies right side out, and export each once")
        for outer in (outward[i] for i in around):
            if abs(winding(outer, hollow.points[0])) > 0.5:
                hollows.setdefault(id(outer), []).append(hollow)
                break
    taken = {id(hollow) for mine in hollows.values() for hollow in mine}
    return [_joined([s, *hollows.get(id(s), [])]) for s in found if id(s) not in taken]


def _joined(several: Sequence[Shell]) -> Shell:
    first = several[0]
    if len(several) == 1:
        return first
    points = np.cumsum([0, *(len(s.points) for s in several)])
    halves = np.cumsum([0, *(len(s.twins) for s in several)])
    return replace(
        first,
        points=np.concatenate([s.points for s in several]),
        triangles=np.concatenate([s.triangles + at for s, at in zip(several, points[:-1], strict=True)]),
        twins=np.concatenate(
            [np.where(s.twins < 0, -1, s.twins + at) for s, at in zip(several, halves[:-1], strict=True)]
        ),
        volume=sum(s.volume for s in several),
        area=sum(s.area for s in several),
    )


def winding(shell: Shell, point: Floats) -> float:
    """How often a closed shell goes round a point (3,): 1 inside, 0 outside.

    The solid angle of each triangle after A. van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125.
    """
    a, b, c = (shell.points[shell.triangles[:, i]] - point for i in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    whole = np.einsum("ij,ij->i", a, np.cross(b, c))
    below = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return float(np.arctan2(whole, below).sum() / (2 * np.pi))
