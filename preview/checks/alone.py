"""What one body shows by itself: closed, outward, on its profile, within the chord, of the right length and volume."""

from __future__ import annotations

import math

import numpy as np

from preview.checks import findings as table
from preview.checks.contact import off_face
from preview.checks.findings import Finding
from preview.checks.place import Laid, carried_back
from preview.checks.readers import Body, Floats, Ints
from preview.checks.standing import FLUSH
from preview.checks.surface import Surface
from preview.joinery import Piece, piece_lengths
from preview.profiles import Arc, distance_to, measure

ON_JOINT = 0.01
HAIR = 1e-4
"""Over how much of the projection, mm, the slant of a bent cut is taken at its tips."""
LEANING = 4.0
"""How much larger than the section, at most, the face is in which a cope or a leaning cut touches its neighbor."""


def on_its_own(piece: Piece, body: Body, skin: Surface, lies: Laid, volume: float, chord: float) -> list[Finding]:
    """The findings on one body. lies: its points, carried back; volume: the closed form, mm³; chord: mm."""
    d, h = lies.d, lies.h
    off = distance_to(piece.profile, np.column_stack([d, h]))
    worst = int(np.argmax(off))
    allowance = body.step * 2
    strays, at, on_cut = _strays(piece, skin, lies, allowance)
    # Two points closer than the file's digits are one in it: what lay between them is gone, and no hole if all agree.
    lost = f"{skin.collapsed} triangles collapsed when stored" if skin.collapsed else ""
    return [
        *_length(piece, skin, lies, chord + allowance),
        Finding(table.CLOSED, piece.name, skin.open_edges, 0, detail=lost),
        Finding(table.OUTWARD, piece.name, 0 if skin.volume > 0 else 1, 0),
        Finding(table.ONE_BODY, piece.name, abs(skin.bodies - 1), 0),
        Finding(
            table.ON_PROFILE,
            piece.name,
            float(off[worst]),
            FLUSH + body.step,
            (float(d[worst]), float(h[worst])),
        ),
        Finding(table.CHORD, piece.name, strays, chord + allowance, at, "on an end cut" if on_cut else ""),
        Finding(
            table.VOLUME,
            piece.name,
            abs(skin.volume - volume),
            chord * _curved_area(piece, skin) + allowance * skin.area,
        ),
    ]


def _length(piece: Piece, skin: Surface, lies: Laid, slack: float) -> list[Finding]:
    """How far a straight's length over all, from its first to its last point, is from what the cut list says."""
    if piece.kind not in ("straight", "return") or not len(skin.triangles):
        return []
    ahead = np.array([*piece.element.tangent, piece.element.slope]) / piece.pace
    along = lies.points @ ahead
    off = abs(float(np.ptp(along)) - piece_lengths(piece)["overall"])
    return [Finding(table.LENGTH, piece.name, off, slack * sharpest(piece))]


def sharpest(piece: Piece) -> float:
    """How much further, at most, a chord missing from a round moves the tip of an end cut: its slant's secant."""
    ends = (piece.begin, piece.end)
    slants = [abs(math.tan(end.turn / 2)) + abs(end.slant) + math.hypot(*end.up[:2]) for end in ends]
    if any(end.is_bent for end in ends):
        slants += _bent_slants(piece)
    return max(math.hypot(1.0, slant) for slant in slants)


def _bent_slants(piece: Piece) -> list[float]:
    """How far a piece's cuts run along it for each mm out, at the foot and the tip of its projection."""
    size = measure(piece.profile)
    tips = np.array([size.d_min, size.d_min + HAIR, size.d_max - HAIR, size.d_max])
    pace = np.abs(1 - piece.curvature * tips[::3])
    return [
        float((np.abs(np.diff(station)[::2]) * pace).max() / HAIR)
        for station, end in zip(piece.stations(tips), (piece.begin, piece.end), strict=True)
        if end.is_bent
    ]


def _curved_area(piece: Piece, skin: Surface) -> float:
    """How much of a body's surface, mm², facets can only follow within the chord: of its sides, and its bent ends."""
    bent = sum(end.is_bent for end in (piece.begin, piece.end))
    return skin.area * curved_share(piece) + bent * LEANING * measure(piece.profile).area


def curved_share(piece: Piece) -> float:
    """How much of a piece's sides facets can only follow within the chord: all of a curve, a straight's arcs."""
    if piece.curvature:
        return 1.0
    edges = piece.profile.edges
    return sum(e.length for e in edges if isinstance(e, Arc)) / sum(e.length for e in edges)


def _strays(piece: Piece, skin: Surface, lies: Laid, rounding: float) -> tuple[float, tuple[float, float] | None, bool]:
    """How far, at most, the middles of facets and of their sides lie from the profile's surface or the end cuts.

    Returns the distance in mm, the (d, h) of the place, and whether it is on an end cut.
    """
    t, d, h, station = skin.triangles, lies.d, lies.h, lies.station
    cut = np.zeros(len(t), dtype=bool)
    found: list[tuple[float, tuple[float, float] | None, bool]] = [(0.0, None, False)]
    # Ends that follow a face come last: on a short piece corners of the other end may lie on that face's ledges.
    for ends in sorted((0, 1), key=lambda each: (piece.begin, piece.end)[each].faced is not None):
        cuts = lies.cuts[ends]
        joint = piece.end if ends else piece.begin
        away = np.abs(station - cuts) * (1 - piece.curvature * d)
        if joint.faced is not None:
            off = off_face(piece, bool(ends), d, h, station)
            mine = np.logical_and((off < ON_JOINT + rounding)[t].all(axis=1), ~cut)
            cut |= mine
            if mine.any():
                # A side that ends at a ledge has facets with all three corners on the cut: they lie on the profile.
                out, up, along = carried_back(piece, _probes(skin.points, t[mine]))
                beside = distance_to(piece.profile, np.column_stack([out, up]))
                away = np.minimum(off_face(piece, bool(ends), out, up, along), beside)
                found.append((*_worst(away, out, up), True))
            continue
        cap = (away < ON_JOINT + rounding)[t].all(axis=1)
        cut |= cap
        if cap.any() and not joint.is_plane:
            out, up, along = carried_back(piece, _probes(skin.points, t[cap]))
            found.append((*_worst(_off_cut(piece, bool(ends), out, along), out, up), True))
    if not cut.all():
        out, up, _ = carried_back(piece, _probes(skin.points, t[~cut]))
        found.append((*_worst(distance_to(piece.profile, np.column_stack([out, up])), out, up), False))
    return max(found, key=lambda worst: worst[0])


def _probes(points: Floats, triangles: Ints) -> Floats:
    """The middles of triangles and of their sides, each side once."""
    start, stop = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    once = start < stop
    sides = (points[start[once]] + points[stop[once]]) / 2
    return np.concatenate([points[triangles].mean(axis=1), sides])


def _worst(off: Floats, out: Floats, up: Floats) -> tuple[float, tuple[float, float]]:
    i = int(np.argmax(off))
    return float(off[i]), (float(out[i]), float(up[i]))


def _off_cut(piece: Piece, ends: bool, out: Floats, along: Floats) -> Floats:
    """How far points at projections `out` and stations `along` lie from a curved end cut, mm."""
    nudge = 1e-3
    here, near, far = (piece.stations(out + shift)[int(ends)] for shift in (0.0, -nudge, nudge))
    wide = 1 - piece.curvature * out
    # Past a joint's reach there is no slope; the station's own difference then counts in full.
    slope = np.nan_to_num((far - near) / (2 * nudge) * wide)
    return np.abs(along - here) * wide / np.hypot(1, slope)
