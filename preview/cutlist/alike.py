"""Which pieces are identical, so that they are cut at one setting; and which are mirror images, which are not.

Two pieces are identical when one can be carried over to where the other stands, its back to the wall: their sections
are the same, and so are their lengths and their ends, left for left and right for right as one faces the wall. A piece
is its own mirror image when its two ends are alike, or when its section is the same upside down, for then it can be
turned over.

Every piece is written as numbers, read from the left to the right as one faces the wall; the mirror image is those
numbers with the ends exchanged and the climb the other way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from preview.cutlist.piece import CutPiece
from preview.cutlist.stock import on_wall_face
from preview.joinery import Joint, Piece
from preview.profiles import Arc, Profile, distance_to, measure

Floats = NDArray[np.float64]

SAME = 1e-6
"""Lengths that differ by less than this, mm, are the same."""
PLACES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
"""Where, from the back to the face, an end is compared."""
ENDS_ALIKE, SAME_UPSIDE_DOWN = "its two ends are alike", "its section is the same upside down"


@dataclass(frozen=True)
class Group:
    """Identical pieces.

    number: from 1. names: of its pieces. mirror_of: the number of the group that is its mirror image, None where there
    is none. own_mirror: why a mirror image of it would be the same piece; "" where it would not.
    """

    number: int
    names: tuple[str, ...]
    mirror_of: int | None = None
    own_mirror: str = ""

    @property
    def count(self) -> int:
        """How many pieces it has."""
        return len(self.names)


@dataclass(frozen=True)
class _Shape:
    """A piece as numbers: what names it, its section, its middle length, its two ends, and how it climbs."""

    key: tuple[object, ...]
    section: Floats
    middle: Floats
    left: Floats
    right: Floats
    climb: Floats
    turns_over: bool

    def same(self, other: _Shape) -> bool:
        return self.key == other.key and all(
            a.shape == b.shape and bool((np.abs(a - b) <= SAME).all())
            for a, b in (
                (self.section, other.section),
                (self.middle, other.middle),
                (self.left, other.left),
                (self.right, other.right),
                (self.climb, other.climb),
            )
        )

    def mirrored(self) -> _Shape:
        return replace(self, left=self.right, right=self.left, climb=-self.climb[::-1])

    def turned_over(self, on_wall: bool) -> _Shape:
        """Upside down: its ends change places. On the face of a wall its two edges do so too."""
        way = slice(None, None, -1) if on_wall else slice(None)
        count = len(PLACES)

        def over(end: Floats) -> Floats:
            return np.concatenate([end[:count][way], -end[count : count + 1], end[count + 1 :]])

        return replace(self, left=over(self.right), right=over(self.left), climb=self.climb[::-1])


def grouped(pieces: Sequence[tuple[CutPiece, Piece]]) -> tuple[Group, ...]:
    """The groups of identical pieces among these, each given with its shape in the model."""
    shapes: list[_Shape] = []
    names: list[list[str]] = []
    own: list[str] = []
    buckets: dict[tuple[object, ...], list[int]] = {}
    for cut, piece in pieces:
        shape = _block_shape(piece, cut) if cut.kind == "block" else _shape_of(piece)
        bucket = buckets.setdefault(shape.key, [])
        here = next((i for i in bucket if _identical(shape, shapes[i])), None)
        if here is None:
            bucket.append(len(shapes))
            shapes.append(shape)
            names.append([cut.name])
            own.append(_own_mirror(shape))
        else:
            names[here].append(cut.name)
    mirrors: list[int | None] = []
    for i, shape in enumerate(shapes):
        image = shape.mirrored()
        mirrors.append(next((j for j in buckets[shape.key] if j != i and _identical(image, shapes[j])), None))
    return tuple(
        Group(i + 1, tuple(names[i]), None if mirrors[i] is None else mirrors[i] + 1, own[i])  # type: ignore[operator]
        for i in range(len(shapes))
    )


def _identical(one: _Shape, two: _Shape) -> bool:
    return one.same(two) or (one.turns_over and one.turned_over(bool(one.key[-1])).same(two))


def _own_mirror(shape: _Shape) -> str:
    if shape.mirrored().same(shape):
        return ENDS_ALIKE
    return SAME_UPSIDE_DOWN if _identical(shape.mirrored(), shape) else ""


def _shape_of(piece: Piece) -> _Shape:
    on_wall = on_wall_face(piece.stand)
    size, e = measure(piece.profile), piece.element
    d = size.d_min + PLACES * (size.d_max - size.d_min)
    middle = (size.h_min + size.h_max) / 2
    starts, stops = _cuts(piece, d, np.full(len(d), middle))
    begin = np.concatenate([starts[2] - starts, _leaning(piece, False), _faced(piece.begin)])
    end = np.concatenate([stops - stops[2], _leaning(piece, True), _faced(piece.end)])
    forward = piece.hand < 0  # it travels from the left to the right of one who faces the wall
    slopes = np.array([e.slope, e.end_slope]) if forward else np.array([-e.end_slope, -e.slope])
    return _Shape(
        (piece.member, piece.profile.name, piece.kind, piece.square, on_wall),
        _section(piece.profile),
        np.array([stops[2] - starts[2], piece.curvature * 1e6, e.bend * 1e6, piece.shear * 1e3]),
        begin if forward else end,
        end if forward else begin,
        slopes * 1e3,
        _same_upside_down(piece.profile, on_wall) and not piece.shear,
    )


def _cuts(piece: Piece, d: Floats, h: Floats) -> tuple[Floats, Floats]:
    """Where points begin and stop, mm; at an end that follows a face, where the miter that it looks like would be."""
    starts, stops = piece.stations(d, h)
    if piece.begin.faced is not None:
        starts = (piece.begin.faced.per_face + piece.begin.faced.per_out) * d
    if piece.end.faced is not None:
        stops = piece.element.length + (piece.end.faced.per_face + piece.end.faced.per_out) * d
    return starts, stops


def _leaning(piece: Piece, at_end: bool) -> Floats:
    """How much further an end reaches for each m up the section, mm."""
    if (piece.end if at_end else piece.begin).faced is not None:
        return np.zeros(1)
    d = np.full(2, measure(piece.profile).d_min)
    cuts = piece.stations(d, np.array([0.0, 1000.0]))[int(at_end)]
    return np.array([(cuts[1] - cuts[0]) * (1.0 if at_end else -1.0)])


def _faced(joint: Joint) -> Floats:
    """How an end follows a face; nothing for a saw cut."""
    if joint.faced is None:
        return np.zeros(2)
    return np.array([abs(joint.faced.per_face), 1.0]) * 1e3


def _section(profile: Profile) -> Floats:
    size = measure(profile)
    d, h = size.d_min, size.h_min
    rows = [
        (e.start[0] - d, e.start[1] - h, e.end[0] - d, e.end[1] - h, e.sweep if isinstance(e, Arc) else 0.0)
        for e in profile.edges
    ]
    return np.array(rows)


def _same_upside_down(profile: Profile, on_wall: bool) -> bool:
    """Whether a section is its own image, top for bottom; on the face of a wall one edge for the other."""
    size = measure(profile)
    points = np.concatenate([edge.point(np.linspace(0.0, 1.0, 7)) for edge in profile.edges])
    axis, around = (0, size.d_min + size.d_max) if on_wall else (1, size.h_min + size.h_max)
    points[:, axis] = around - points[:, axis]
    return bool((distance_to(profile, points) <= SAME).all())


def _block_shape(piece: Piece, cut: CutPiece) -> _Shape:
    """A block: the sides and corners of its outline, begun wherever they come first, and how far it is carried."""
    none = np.zeros(0)
    size = cut.block
    sizes = np.array([piece.element.length, *(sorted((size.wide, size.out, size.high)) if size else ())])
    key = (piece.member, piece.profile.name, piece.kind, False, False)
    return _Shape(key, _outline(piece.profile), sizes, none, none, none, False)


def _outline(profile: Profile) -> Floats:
    rows = []
    for before, edge in zip((profile.edges[-1], *profile.edges[:-1]), profile.edges, strict=True):
        (ax, ay), (bx, by) = before.tangent(np.ones(1))[0], edge.tangent(np.zeros(1))[0]
        turn = float(np.arctan2(ax * by - ay * bx, ax * bx + ay * by))
        rows.append((round(edge.length, 6) + 0.0, round(turn, 6) + 0.0, edge.sweep if isinstance(edge, Arc) else 0.0))
    turned = [rows[i:] + rows[:i] for i in range(len(rows))]
    return np.array(min(turned))
