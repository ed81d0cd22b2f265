"""How an end stands against another body: a cope on the face it follows, a square end on a block or a casing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from preview.checks.continuity import APART, SEARCH, Meeting, Rim, outward
from preview.checks.place import carried_back, in_scene
from preview.checks.readers import Floats, Ints
from preview.checks.surface import Surface
from preview.joinery import Faced, Joint, Piece
from preview.profiles import distance_to

ON_CUT = 1.0
"""Points of a body this near, mm, to the face that its cope follows are taken for the cope's."""
BLOCK = 256
"""How many points are held against all triangles at a time."""


def against(joint: Joint, piece: Piece, rim: Rim | None, other: Surface | None) -> Meeting:
    """How the rim of an end that is cut square stands on another body's surface.

    gap: along the travel; step: how far the end sticks out beyond the face it stands against, mm.
    """
    if rim is None or other is None:
        return Meeting(APART, APART, None, missing="no end face was found" if rim is None else "nothing stands there")
    probes = np.concatenate([rim.starts, (rim.starts + rim.stops) / 2])
    square = in_scene(piece, outward(joint, probes)) - np.array(piece.stand.origin)
    away = nearest(in_scene(piece, probes), other) - in_scene(piece, probes)
    along = np.einsum("ij,ij->i", away, square)
    aside = np.linalg.norm(away - along[:, None] * square, axis=1)
    gap, step = int(np.argmax(np.abs(along))), int(np.argmax(aside))
    places = np.tile(rim.profile, (2, 1))
    out = float(aside[step])
    said = "the end stands out beyond what it butts against" if out > ON_CUT else ""
    return Meeting(float(abs(along[gap])), out, None, _place(places[gap]), _place(places[step]), None, said)


def coped(piece: Piece, at_end: bool, skin: Surface, other: Surface, rounding: float) -> Meeting:
    """How far, at most, a cope's surface stands from the face it follows, mm: the gap; a cope has no common rim."""
    d, h, station = carried_back(piece, skin.points)
    off = off_face(piece, at_end, d, h, station)
    on = np.flatnonzero(
        (off < ON_CUT + rounding)
        & (off * abs(_followed(piece, at_end).per_face) < _off_other(piece, at_end, d, h, station))
    )
    if not len(on):
        return Meeting(APART, None, None, missing="no coped face was found")
    apart = np.linalg.norm(nearest(skin.points[on], other) - skin.points[on], axis=1)
    worst = int(np.argmax(apart))
    at = (float(d[on[worst]]), float(h[on[worst]]))
    return Meeting(float(apart[worst]), None, None, at, None, None)


def _followed(piece: Piece, at_end: bool) -> Faced:
    """The cut of an end that follows a face; ValueError where it follows none."""
    faced = (piece.end if at_end else piece.begin).faced
    if faced is None:
        raise ValueError("this end follows no face")
    return faced


def _off_other(piece: Piece, at_end: bool, d: Floats, h: Floats, station: Floats) -> Floats:
    """How far points of a piece (n,) stand along the run from where its other end has them, mm."""
    ends = [piece.stations(d, h, side)[0 if at_end else 1] for side in ("below", "above")]
    off: Floats = np.nan_to_num(np.min([np.abs(station - end) for end in ends], axis=0), nan=np.inf)
    return off


def off_face(piece: Piece, at_end: bool, d: Floats, h: Floats, station: Floats) -> Floats:
    """How far points of a piece lie from the surface that its coped or returned end follows (n,), mm.

    Seen along that surface its section is the profile itself: at an inside corner of walls that turn by phi, a point
    d out and s along the second wall lies s sin(phi) + d cos(phi) out from the first; at a return, s out from the
    end's own line. Where the face jumps, the end has a level ledge between its two places.
    """
    faced = _followed(piece, at_end)
    past = station - (piece.element.length if at_end else 0.0)
    out = (past - faced.per_out * d) / faced.per_face
    off = distance_to(piece.profile, np.column_stack([out, h]))
    # Below the profile's foot and above its top, and beside a hidden hollow, there is the ledge or the bare wall.
    for jump in faced.face.jumps:
        level = np.full_like(h, jump)
        low, high = np.sort([faced.face.at(level, "below"), faced.face.at(level, "above")], axis=0)
        beside = np.maximum(np.maximum(low - out, out - high), 0.0)
        off = np.minimum(off, np.hypot(beside, h - jump))
    least, most = faced.face.breaks[0], faced.face.breaks[-1]
    found: Floats = np.where((h < least) | (h > most), np.minimum(off, np.abs(out)), off)
    return found


def standing_near(rim: Rim, piece: Piece, others: Sequence[tuple[int, Surface]]) -> int | None:
    """Which of some bodies (by number) an end stands nearest to, within 5 mm; None where nothing is near."""
    points = in_scene(piece, rim.starts)
    low, high = points.min(axis=0) - SEARCH, points.max(axis=0) + SEARCH
    best: tuple[float, int] | None = None
    for number, skin in others:
        if (skin.points.max(axis=0) < low).any() or (skin.points.min(axis=0) > high).any():
            continue
        apart = float(np.linalg.norm(nearest(points, skin) - points, axis=1).mean())
        if best is None or apart < best[0]:
            best = (apart, number)
    return best[1] if best and best[0] < SEARCH else None


def nearest(points: Floats, skin: Surface) -> Floats:
    """The nearest point on a body's surface to each of some points (p, 3): (p, 3), mm."""
    corners = skin.points[skin.triangles]
    low, high = points.min(axis=0) - SEARCH, points.max(axis=0) + SEARCH
    close = ((corners.max(axis=1) >= low) & (corners.min(axis=1) <= high)).all(axis=1)
    corners = corners[close] if close.any() else corners
    parts = [_nearest(points[i : i + BLOCK], corners) for i in range(0, len(points), BLOCK)]
    return np.concatenate(parts)


def _nearest(points: Floats, corners: Floats) -> Floats:
    """The nearest points of triangles (t, 3, 3): the foot on the plane where that is inside, else on a side."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    square = np.cross(b - a, c - a)
    area = np.einsum("ij,ij->i", square, square)
    away = points[:, None] - a[None]
    lift = np.einsum("ptj,tj->pt", away, square) / np.where(area > 0, area, 1.0)
    foot = points[:, None] - lift[..., None] * square[None]
    inside = np.broadcast_to(area[None] > 0, lift.shape).copy()
    best = np.full(lift.shape, np.inf)
    found = np.zeros((*lift.shape, 3))
    for p, q in ((a, b), (b, c), (c, a)):
        side = q - p
        inside &= np.einsum("tj,ptj->pt", square, np.cross(side[None], foot - p[None])) >= 0
        long = np.einsum("ij,ij->i", side, side)
        t = np.clip(np.einsum("ptj,tj->pt", points[:, None] - p[None], side) / np.where(long > 0, long, 1.0), 0.0, 1.0)
        at = p[None] + t[..., None] * side[None]
        apart = np.linalg.norm(at - points[:, None], axis=2)
        closer = apart < best
        best = np.where(closer, apart, best)
        found = np.where(closer[..., None], at, found)
    flat = np.abs(lift) * np.sqrt(area)[None]
    best = np.where(inside, flat, best)
    found = np.where(inside[..., None], foot, found)
    pick: Ints = np.argmin(best, axis=1)
    return found[np.arange(len(points)), pick]


def _place(at: Floats) -> tuple[float, float]:
    return float(at[0]), float(at[1])
