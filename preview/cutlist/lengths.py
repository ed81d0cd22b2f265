"""The lengths of a piece on its own lines, and how its two ends stand to its neighbors'."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.joinery import Joint, Piece, outline_points, passages, piece_lengths
from preview.profiles import Edge, Line, Profile, measure

Floats = NDArray[np.float64]

ON_A_LINE = 1e-6
WOOD = 1e-9


@dataclass(frozen=True)
class Lengths:
    """The lengths of a piece, mm, as `CutPiece` defines them; on a slope along it, on a curve along its arcs."""

    wall: float
    back: float
    face: float
    long: float
    short: float
    inner: float
    overall: float
    stick: float


def lengths_of(piece: Piece) -> Lengths:
    """All lengths of a piece of molding."""
    found = piece_lengths(piece)
    size = measure(piece.profile)
    back, face = (_on_line(piece, d) for d in (size.d_min, size.d_max))
    inner, outer = _between_points(piece)
    overall = max(found["overall"], outer)  # where the piece is not level the outline is followed in short steps
    return Lengths(
        wall=found["back"],
        back=back,
        face=face,
        long=max(found["longest"], back, face) if not piece.is_faced else found["longest"],
        short=min(found["shortest"], back, face) if not piece.is_faced else found["shortest"],
        inner=inner,
        overall=overall,
        stick=max(overall, _as_mitered(piece)),
    )


def nominal(joint: Joint, at_end: bool, d: float) -> float:
    """How far past the corner, mm along the run, a neighbor's line at d out would meet this piece's in a miter."""
    before, after = passages([joint])
    side = before if at_end else after
    return float(side.stations_at(joint.points(np.array([d]))[None])[0, 0])


def turn_at(joint: Joint, d: float, hand: int) -> float:
    """By how much the line at d out turns at a joint, radians, + inside."""
    if not joint.turn:
        return 0.0
    if joint.before.curvature == joint.after.curvature == 0.0:
        return joint.turn
    points = joint.points(np.array([d]))[None]
    one, two = (side.normals_at(points)[0, 0] for side in passages([joint]))
    return hand * math.atan2(one[0] * two[1] - one[1] * two[0], one[0] * two[0] + one[1] * two[1])


def gain(piece: Piece, at_end: bool) -> float:
    """How much further along the piece, mm, its face runs than its back at an end: + where the long point is in front.

    On a curve it is measured square to the back's own cut, along the tangent there.
    """
    size = measure(piece.profile)
    if not piece.curvature:
        return reach(piece, at_end, size.d_max) - reach(piece, at_end, size.d_min)
    joint = piece.end if at_end else piece.begin
    back, face = joint.points(np.array([size.d_min, size.d_max]))
    before, after = passages([joint])
    nx, ny = (before if at_end else after).normals_at(back[None, None])[0, 0].tolist()
    tangent = np.array([ny, -nx]) * piece.hand
    return float((face - back) @ tangent) * (1.0 if at_end else -1.0)


def reach(piece: Piece, at_end: bool, d: float) -> float:
    """How far past the run's corner, mm along the piece and outward, the wood reaches on its line at d out."""
    starts, stops, *_ = _spans(piece, *_at(piece.profile, d, piece.is_faced), 0.0)
    length = piece.element.walked(piece.element.length)
    return float(stops.max()) - length if at_end else -float(starts.min())


def nominal_reach(piece: Piece, joint: Joint, at_end: bool, d: float) -> float:
    """The same for the miter that the joint would be, + outward."""
    past = nominal(joint, at_end, d) * piece.pace
    return past if at_end else -past


def _on_line(piece: Piece, d: float) -> float:
    """From cut to cut on the lowest line at d out; where an end follows a face, the most there is at d out."""
    starts, stops, _, h = _spans(piece, *_at(piece.profile, d, piece.is_faced), 0.0)
    if piece.is_faced:
        return float(stops.max() - starts.min())
    lowest = int(np.argmin(h))
    return float(stops[lowest] - starts[lowest]) * (1.0 - piece.curvature * d)


def _between_points(piece: Piece) -> tuple[float, float]:
    """Between the two short points, which is what of the piece is whole, and between the two long points."""
    size = measure(piece.profile)
    limits = [_at(piece.profile, d, False) for d in (size.d_min, size.d_max)]
    d, h = (np.concatenate(each) for each in zip(outline_points(piece.profile, piece.is_faced), *limits, strict=True))
    leaning = 0.0 if piece.square else piece.element.slope / piece.pace
    starts, stops, d, _ = _spans(piece, d, h, leaning)
    scale = 1 - piece.curvature * d
    return float((stops.min() - starts.max()) * scale.min()), float((stops.max() - starts.min()) * scale.max())


def _as_mitered(piece: Piece) -> float:
    """What the stick must hold while a cope's end is still the miter that shows its line."""
    if not piece.is_faced:
        return 0.0
    size = measure(piece.profile)
    d = np.array([size.d_min, size.d_max])
    starts, stops = piece.stations(d, np.full(2, size.h_min))
    for faced, of, at in ((piece.begin.faced, starts, 0.0), (piece.end.faced, stops, piece.element.length)):
        if faced is not None:
            of[:] = at + (faced.per_face + faced.per_out) * d
    return float(stops.max() - starts.min())


def _spans(piece: Piece, d: Floats, h: Floats, leaning: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Where lines at (d, h) start and stop, mm walked along the piece, and which they are.

    leaning: how far up the slope a point stands for each mm of its height. Where a face jumps a line counts at both of
    its places, as far as there is wood.
    """
    starts, stops = piece.stations(d, h)
    if piece.is_faced:
        faces = [end.faced.face for end in (piece.begin, piece.end) if end.faced is not None]
        more = piece.stations(d, h, "above")
        line = faces[0]
        wood = np.concatenate([d <= line.at(h, side) + WOOD for side in ("below", "above")])
        wood |= np.tile((h <= line.breaks[0]) | (h >= line.breaks[-1]), 2)
        starts, stops = np.concatenate([starts, more[0]])[wood], np.concatenate([stops, more[1]])[wood]
        d, h = np.tile(d, 2)[wood], np.tile(h, 2)[wood]
    along = leaning * (h + piece.shear * d)
    walked = piece.element.walked
    return walked(starts) + along, walked(stops) + along, d, h


def _at(profile: Profile, d: float, faced: bool) -> tuple[Floats, Floats]:
    """The points of an outline that lie d out; faced: with all heights at which a face may change."""
    if faced:
        out, up = outline_points(profile, True)
        there = np.abs(out - d) <= ON_A_LINE
        if there.any():
            return out[there], up[there]
    heights = [h for edge in profile.edges for h in _heights(edge, d)]
    return np.full(len(heights), d), np.array(heights)


def _heights(edge: Edge, d: float) -> list[float]:
    found = [end[1] for end in (edge.start, edge.end) if abs(end[0] - d) <= ON_A_LINE]
    if isinstance(edge, Line):
        return found
    for side in (edge.radius, -edge.radius):
        top = (edge.center[0] + side, edge.center[1])
        if abs(top[0] - d) <= ON_A_LINE and edge.angle_to(top) <= abs(edge.sweep):
            found.append(top[1])
    return found
