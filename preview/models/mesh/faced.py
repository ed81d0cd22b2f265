"""The mesh of a straight that ends on a face: a cope, or a return worked on its own end.

Every vertex of the section has its height met by a vertex on every other edge (`banded`), so such an end is a row of
plane strips between two heights, and its vertices lie on the true surface. The other piece's face has the same
heights: the strips lie on its facets.

    s above  . . . . . .  _______    At a level fillet of the face the end jumps. A point of the section at that height
                         |           has two vertices then, one for the wood below and one for the wood above, and a
    ledge    ____________|           level ledge lies between them. Beside it a side of the piece has both as corners,
    s below              ^ vertices  so no edge ends in the middle of another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.joinery import EVEN, Bands, Cell, Faced, FacedStraight, FaceLine, Limit, banded, cut_bands, face_line
from preview.models.mesh.face import Face, Floats, Ints, make_face
from preview.models.mesh.shape import Stored
from preview.models.mesh.steps import SHARE_SECTION
from preview.profiles import Arc, Profile

SMOOTH = math.cos(math.radians(2))
"""Strips whose normals differ by less look like one round."""
TOGETHER = 1e-9
CAP_SLOTS = 4
"""A vertex of a faced end may be drawn with four normals: a smooth one, the strips' below and above, a ledge's."""
BLENDED, BELOW, ABOVE, LEDGE = range(CAP_SLOTS)
SIDES: tuple[Limit, Limit] = ("below", "above")
NEAR = 0.02
"""Corners of the section whose heights differ by less than this share of the chord are at one height to a mesh."""
STRAYS = 1e-3
"""How far out, mm, a round may come between two heights that are one to a mesh."""


Corners = tuple[int, int, int]


@dataclass(frozen=True)
class FacedSection:
    """A member's section for pieces with a faced end, and their neighbors: one point of the face for each edge.

    line: the outermost line of its profile. cells (m, 3): the cells' triangles, by point, counter-clockwise. above
    (m, 3): whether a corner is on the cell's foot, so that the wood lies above its height. facing: how far out the
    face's facets stand (n, 2) at the height of each point, below and above it, and which way they run (n, 2, 2), up.
    """

    profile: Profile
    line: FaceLine
    face: Face
    bands: Bands
    cells: Ints
    above: NDArray[np.bool_]
    facing: tuple[Floats, Floats]


@dataclass(frozen=True)
class FacedShape:
    """What `Shape` tells of other pieces: index arrays, as stored."""

    face: Face
    spans: int
    mirrored: bool
    triangles: NDArray[np.int32]
    render_triangles: NDArray[np.int32]
    corner_point: NDArray[np.int32]


@dataclass(frozen=True)
class FacedMesh:
    """A closed mesh: points (p, 3) in mm; normals (v, 3) and uvs (v, 2) of the render vertices."""

    shape: FacedShape
    points: Floats
    normals: Stored
    uvs: Stored


def faced_section(profile: Profile, chord: float, levels: tuple[float, ...] = ()) -> FacedSection:
    """Cut a placed profile for a mesh of this chord tolerance, mm; levels: projections to cut it at as well."""
    # Where a round turns back, a step of height is a far longer one outward, and a cut that follows it strays by that.
    round_most = max((edge.radius for edge in profile.edges if isinstance(edge, Arc)), default=chord)
    try:
        section, bands = _cut(profile, chord, levels, min(NEAR * chord, STRAYS**2 / (2 * round_most)))
    except ValueError:  # a step of the outline is as small as that
        section, bands = _cut(profile, chord, levels, EVEN)
    # The section's arcs are single steps already; a wider chord keeps them so.
    face = make_face(section, chord, levels, parted=True)
    if len(face.d) != len(bands.points):
        raise ValueError("a part of the section takes more than one step")
    strips = [_strip(cell, bands.points) for cell in bands.cells]
    cells = np.array([corners for strip in strips for corners, _ in strip], dtype=np.int64)
    above = np.array([sides for strip in strips for _, sides in strip])
    return FacedSection(section, face_line(profile), face, bands, cells, above, _facing(face, bands))


def _cut(profile: Profile, chord: float, levels: tuple[float, ...], near: float) -> tuple[Profile, Bands]:
    section = banded(profile, outs=levels, chord=SHARE_SECTION * chord, near=near)
    return section, cut_bands(section, near)


def _facing(face: Face, bands: Bands) -> tuple[Floats, Floats]:
    outs = np.zeros((len(bands.heights), 2))
    ways = np.tile([0.0, 1.0], (len(bands.heights), 2, 1))
    for cell in bands.cells:  # the outermost of a band comes last
        start, end = cell.right, (cell.right + 1) % len(bands.points)
        outs[cell.band, 1], outs[cell.band + 1, 0] = face.d[start], face.d[end]
        ways[cell.band, 1], ways[cell.band + 1, 0] = face.outline.tangent_out[start], face.outline.tangent_in[end]
    return outs[bands.level], ways[bands.level]


def mesh_faced(section: FacedSection, straight: FacedStraight, spans: int = 1) -> FacedMesh:
    """The closed mesh of a straight; `section` is made of its profile."""
    ends = (
        _end(section, straight.begin, straight.begin_cut, first=True),
        _end(section, straight.end, straight.end_cut, first=False),
    )
    nodes = _Nodes.of(section, ends, spans)
    sides = _sides(section, nodes)
    caps = [_cap(section, end, nodes.end_nodes[i]) for i, end in enumerate(ends)]
    return _assembled(section, straight, spans, ends, nodes, sides, caps)


@dataclass(frozen=True)
class _End:
    """One end in numbers: the stations (n,) of the points for the wood below and above their heights.

    normals: the cut's there (n, 3), looking along the travel; the same ones on an end that does not follow heights.
    first: the beginning.
    """

    low: Floats
    high: Floats
    normals: tuple[Floats, Floats]
    is_banded: bool
    first: bool

    @property
    def jumps(self) -> NDArray[np.bool_]:
        return np.abs(self.high - self.low) > TOGETHER


def _end(section: FacedSection, at: float, cut: Faced, *, first: bool) -> _End:
    d, h = section.face.d, section.face.h
    if cut.face != section.line:
        stations = [at + cut.stations(d, h, side) for side in SIDES]
        normals = [cut.normals(h, side) for side in SIDES]
        return _End(stations[0], stations[1], (normals[0], normals[1]), not cut.is_plane, first)
    outs, ways = section.facing
    along = at + cut.per_out * d + cut.per_up * h
    low, high = (along + cut.per_face * out for out in outs.T)
    return _End(low, high, (cut.normals_along(ways[:, 0]), cut.normals_along(ways[:, 1])), True, first)


@dataclass(frozen=True)
class _Nodes:
    """The mesh's vertices before those not used are dropped: stations, and which section point each lies on.

    end_nodes: for the beginning and the end (n, 2): each point's vertex for the wood below and above.
    rings (spans - 1, n): the vertices between. near: at both ends (n,), the vertex at which the sides first meet.
    """

    stations: Floats
    point: Ints
    end_nodes: tuple[Ints, Ints]
    rings: Ints
    near: tuple[Ints, Ints]

    def apart(self, one: int, other: int) -> float:
        """How far apart along the travel two vertices are."""
        return abs(float(self.stations[one] - self.stations[other]))

    @classmethod
    def of(cls, section: FacedSection, ends: tuple[_End, _End], spans: int) -> _Nodes:
        n = len(section.face.d)
        stations: list[Floats] = []
        points: list[Ints] = []
        end_nodes: list[Ints] = []
        near: list[Ints] = []
        count = 0
        used = section.bands.from_above.astype(np.int64)
        sides = np.column_stack([np.roll(used[:, 1], 1), used[:, 0]])  # which vertex the edges before and after take
        for end in ends:
            jumps = np.flatnonzero(end.jumps)
            pair = np.tile(count + np.arange(n)[:, None], (1, 2))
            pair[jumps, 1] = count + n + np.arange(len(jumps))
            stations += [end.low, end.high[jumps]]
            points += [np.arange(n), jumps]
            count += n + len(jumps)
            both = np.column_stack([end.low, end.high])[np.arange(n)[:, None], sides]
            nearer = both.argmax(axis=1) if end.first else both.argmin(axis=1)
            near.append(pair[np.arange(n), sides[np.arange(n), nearer]])
            end_nodes.append(pair)
        known = np.concatenate(stations)
        u = np.linspace(0.0, 1.0, spans + 1)[1:-1, None]
        between = known[near[0]] * (1 - u) + known[near[1]] * u
        rings = count + np.arange(between.size).reshape(between.shape)
        whole = np.concatenate([known, between.ravel()])
        point = np.concatenate([*points, np.tile(np.arange(n), max(spans - 1, 0))])
        return cls(whole, point, (end_nodes[0], end_nodes[1]), rings, (near[0], near[1]))


def _sides(section: FacedSection, nodes: _Nodes) -> tuple[Ints, Ints]:
    """The sides' triangles (t, 3) by vertex, and the column (t, 3) of the face that each corner is drawn with."""
    n = len(section.face.d)
    limit = section.bands.from_above.astype(np.int64)
    tracks = []
    for points, sides in ((np.arange(n), limit[:, 0]), (np.roll(np.arange(n), -1), limit[:, 1])):
        begin, end = (pair[points, sides] for pair in nodes.end_nodes)
        near = [each[points] for each in nodes.near]
        tracks.append(np.column_stack([begin, near[0], nodes.rings[:, points].T, near[1], end]))
    triangles: list[Corners] = []
    columns: list[Corners] = []
    for i in range(n):
        a, b = (_once(track[i].tolist()) for track in tracks)
        left, right = int(section.face.left[i]), int(section.face.right[i])
        j = k = 0
        while j + 1 < len(a) or k + 1 < len(b):
            # The shorter of the two diagonals keeps triangles from growing thin.
            on_b = k + 1 < len(b) and (j + 1 == len(a) or nodes.apart(b[k + 1], a[j]) <= nodes.apart(a[j + 1], b[k]))
            triangles.append((a[j], b[k], b[k + 1] if on_b else a[j + 1]))
            columns.append((left, right, right if on_b else left))
            j, k = (j, k + 1) if on_b else (j + 1, k)
    return np.array(triangles, dtype=np.int64), np.array(columns, dtype=np.int64)


def _once(track: list[int]) -> list[int]:
    return [node for i, node in enumerate(track) if not i or node != track[i - 1]]


def _cap(section: FacedSection, end: _End, pair: Ints) -> tuple[Ints, Ints]:
    """An end's triangles (t, 3), looking along the travel, and the slot (t, 3) each corner is drawn with."""
    if not end.is_banded:
        triangles = pair[section.face.triangles, 0]
        return triangles, np.full(triangles.shape, BLENDED)
    side = section.above.astype(np.int64)
    triangles = pair[section.cells, side]
    bent = np.einsum("nk,nk->n", *end.normals) < SMOOTH
    slots = np.where(bent[section.cells] | end.jumps[section.cells], BELOW + side, BLENDED)
    ledges = [(a, b) for a, b in section.bands.ledges if end.jumps[a] and end.jumps[b]]
    if ledges:
        a, b = np.array(ledges).T
        (la, ha), (lb, hb) = pair[a].T, pair[b].T
        levels = np.concatenate([np.column_stack([la, lb, hb]), np.column_stack([la, hb, ha])])
        triangles = np.concatenate([triangles, levels])
        slots = np.concatenate([slots, np.full(levels.shape, LEDGE)])
    return triangles, slots


def _assembled(
    section: FacedSection,
    straight: FacedStraight,
    spans: int,
    ends: tuple[_End, _End],
    nodes: _Nodes,
    sides: tuple[Ints, Ints],
    caps: list[tuple[Ints, Ints]],
) -> FacedMesh:
    columns = len(section.face.column_point)
    slots = columns + 2 * CAP_SLOTS
    corners = [sides[0], caps[0][0][:, ::-1], caps[1][0]]
    drawn = [sides[1], columns + caps[0][1][:, ::-1], columns + CAP_SLOTS + caps[1][1]]
    triangles, slot = np.concatenate(corners), np.concatenate(drawn)
    mirrored = straight.frame.mirrored
    if mirrored:
        triangles, slot = triangles[:, ::-1], slot[:, ::-1]
    kept, place = np.unique(triangles, return_inverse=True)
    keys, render = np.unique(triangles * slots + slot, return_inverse=True)
    node, slot = np.divmod(keys, slots)
    point = nodes.point[kept]
    d, h = section.face.d[point], section.face.h[point]
    points = straight.frame.points(nodes.stations[kept], d, h)
    normals, uvs = _drawn(section, ends, nodes.stations[node], nodes.point[node], slot)
    shape = FacedShape(
        face=section.face,
        spans=spans,
        mirrored=mirrored,
        triangles=place.reshape(-1, 3).astype(np.int32),
        render_triangles=render.reshape(-1, 3).astype(np.int32),
        corner_point=np.searchsorted(kept, node).astype(np.int32),
    )
    turned = normals @ straight.frame.axes
    return FacedMesh(shape, points, turned.astype(np.float32), uvs.astype(np.float32))


def _drawn(
    section: FacedSection, ends: tuple[_End, _End], stations: Floats, point: Ints, slot: Ints
) -> tuple[Floats, Floats]:
    """Normals (v, 3) in the piece's own axes, and UVs (v, 2) in mm, of the render vertices."""
    face = section.face
    columns = len(face.column_point)
    normals = np.zeros((len(slot), 3))
    uvs = np.column_stack([face.d[point], face.h[point]])
    side = slot < columns
    normals[side, 1:] = face.column_normal[slot[side]]
    uvs[side] = np.column_stack([stations[side], face.column_around[slot[side]]])
    for number, end in enumerate(ends):
        first = columns + number * CAP_SLOTS
        look = -1.0 if end.first else 1.0
        below, above = end.normals
        blend = below + above
        blend /= np.linalg.norm(blend, axis=1, keepdims=True) + 1e-300
        for kind, known in ((BLENDED, blend), (BELOW, below), (ABOVE, above)):
            here = slot == first + kind
            normals[here] = look * known[point[here]]
        here = slot == first + LEDGE
        # The wood below goes further: the ledge looks up.
        normals[here, 2] = np.sign(look * (end.low - end.high))[point[here]]
        uvs[here] = np.column_stack([stations[here], face.d[point[here]]])
    return normals, uvs


def _strip(cell: Cell, points: Floats) -> list[tuple[Corners, tuple[bool, bool, bool]]]:
    """A cell in triangles, counter-clockwise; every corner with whether it is on the cell's foot."""
    foot, head = cell.foot, cell.head
    found = []
    i = j = 0
    while i + 1 < len(foot) or j + 1 < len(head):
        on_foot = j + 1 == len(head) or (
            i + 1 < len(foot)
            and abs(points[foot[i + 1], 0] - points[head[j], 0]) <= abs(points[head[j + 1], 0] - points[foot[i], 0])
        )
        if on_foot:
            found.append(((foot[i], foot[i + 1], head[j]), (True, True, False)))
            i += 1
        else:
            found.append(((foot[i], head[j + 1], head[j]), (True, False, False)))
            j += 1
    return found
