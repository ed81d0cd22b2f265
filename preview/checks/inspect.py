"""The inspection: every check on models read back from disk."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from preview.checks import findings as table
from preview.checks.contact import off_face
from preview.checks.continuity import Meeting, Rim
from preview.checks.findings import Finding
from preview.checks.overlap import shared_volumes
from preview.checks.place import carried_back, in_plan
from preview.checks.readers import Body, Floats, Ints
from preview.checks.standing import FLUSH, JointPair, Standing, joint_findings
from preview.checks.surface import Surface, surface, unbalanced_edges
from preview.joinery import Piece, piece_lengths
from preview.profiles import Arc, distance_to, measure

SHARED = 1e-3
ON_JOINT = 0.01
LEANING = 4.0
"""How much larger than the section, at most, the face is in which a cope or a leaning cut touches its neighbor."""

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Inspection:
    """All findings on a model, with what was measured at each joint (None at an end) and each piece's volume.

    rims: the two end faces at each joint, None where there is none or none was asked for.
    """

    findings: tuple[Finding, ...]
    meetings: tuple[Meeting | None, ...]
    volumes: tuple[float, ...]
    rims: tuple[tuple[Rim | None, Rim | None], ...] = ()


def inspect_bodies(
    bodies: Sequence[Body],
    pieces: Sequence[Piece],
    joints: Sequence[JointPair],
    volumes: Floats,
    chord: float,
    progress: Progress | None = None,
) -> Inspection:
    """Check a model's bodies against the pieces they should be.

    volumes (P,): the closed form, mm³. chord: the tolerance the model was made to, mm. Bodies whose names are no
    piece's are passed over (surroundings); a piece whose body is missing or stands twice fails.
    """
    found: list[Finding] = []
    named: dict[str, list[Body]] = {}
    for found_body in bodies:
        named.setdefault(found_body.name, []).append(found_body)
    have: list[Body | None] = []
    for piece in pieces:
        mine = named.get(piece.name, [])
        have.append(mine[0] if len(mine) == 1 else None)
        detail = "" if len(mine) == 1 else f"the file holds {len(mine)} bodies of this name"
        found.append(Finding(table.PRESENT, piece.name, abs(1 - len(mine)), 0, detail=detail))
    surfaces: list[Surface | None] = []
    for i, (piece, body) in enumerate(zip(pieces, have, strict=True)):
        skin = surface(body) if body is not None else None
        surfaces.append(skin)
        if body is not None and skin is not None:
            found += _on_its_own(piece, body, skin, float(volumes[i]), chord)
        if progress:
            progress("pieces", i + 1, len(pieces))
    found += _overlaps(pieces, have, surfaces, progress)
    meetings: list[Meeting | None] = []
    rims: list[tuple[Rim | None, Rim | None]] = []
    model = Standing(pieces, have, surfaces)
    for number, pair in enumerate(joints):
        measured = model.joint(pair)
        if measured is not None:
            found += joint_findings(pair.joint, measured.meeting, measured.rounding)
        meetings.append(measured.meeting if measured is not None else None)
        rims.append(measured.rims if measured is not None else (None, None))
        if progress:
            progress("joints", number + 1, len(joints))
    return Inspection(
        tuple(found), tuple(meetings), tuple(s.volume if s is not None else float("nan") for s in surfaces), tuple(rims)
    )


def _on_its_own(piece: Piece, body: Body, skin: Surface, volume: float, chord: float) -> list[Finding]:
    """What one body shows by itself."""
    d, h, station = carried_back(piece, skin.points)
    off = distance_to(piece.profile, np.column_stack([d, h]))
    worst = int(np.argmax(off))
    allowance = body.step * 2
    strays, at, on_cut = _strays(piece, skin, d, h, station, allowance)
    faults = skin.open_edges + skin.collapsed
    lost = f"{skin.collapsed} triangles collapsed when stored" if skin.collapsed else ""
    return [
        *_length(piece, skin, chord + allowance),
        Finding(table.CLOSED, piece.name, faults, 0, detail=lost),
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


def _length(piece: Piece, skin: Surface, slack: float) -> list[Finding]:
    """How far a straight's length over all, from its first to its last point, is from what the cut list says."""
    if piece.kind not in ("straight", "return") or not len(skin.triangles):
        return []
    ahead = np.array([*piece.element.tangent, piece.element.slope]) / piece.pace
    along = in_plan(piece, skin.points) @ ahead
    off = abs(float(np.ptp(along)) - piece_lengths(piece)["overall"])
    sharpest = max(1 / math.cos(end.turn / 2) for end in (piece.begin, piece.end))
    return [Finding(table.LENGTH, piece.name, off, slack * sharpest)]


def _curved_area(piece: Piece, skin: Surface) -> float:
    """How much of a body's surface, mm², facets can only follow within the chord: of its sides, and its bent ends."""
    bent = sum(not end.is_plane and end.faced is None for end in (piece.begin, piece.end))
    return skin.area * curved_share(piece) + bent * LEANING * measure(piece.profile).area


def curved_share(piece: Piece) -> float:
    """How much of a piece's sides facets can only follow within the chord: all of a curve, a straight's arcs."""
    if piece.curvature:
        return 1.0
    edges = piece.profile.edges
    return sum(e.length for e in edges if isinstance(e, Arc)) / sum(e.length for e in edges)


def _strays(
    piece: Piece, skin: Surface, d: Floats, h: Floats, station: Floats, rounding: float
) -> tuple[float, tuple[float, float] | None, bool]:
    """How far, at most, the middles of facets and of their sides lie from the profile's surface or the end cuts.

    Returns the distance in mm, the (d, h) of the place, and whether it is on an end cut.
    """
    t = skin.triangles
    cut = np.zeros(len(t), dtype=bool)
    found: list[tuple[float, tuple[float, float] | None, bool]] = [(0.0, None, False)]
    for ends, cuts in enumerate(piece.stations(d, h)):
        joint = piece.end if ends else piece.begin
        away = np.abs(station - cuts) * (1 - piece.curvature * d)
        if joint.faced is not None:
            off = off_face(piece, bool(ends), d, h, station)
            cap = (off < ON_JOINT + rounding)[t].all(axis=1)
            cut |= cap
            if cap.any():
                # A side that ends at a ledge has facets with all three corners on the cut: they lie on the profile.
                out, up, along = carried_back(piece, _probes(skin.points, t[cap]))
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


def _overlaps(
    pieces: Sequence[Piece],
    have: Sequence[Body | None],
    surfaces: Sequence[Surface | None],
    progress: Progress | None,
) -> list[Finding]:
    whole = [i for i, s in enumerate(surfaces) if s is not None and len(s.triangles)]
    skins = [s for s in surfaces if s is not None and len(s.triangles)]
    steps = [body.step if body is not None else 0.0 for body in have]

    def count(done: int, total: int) -> None:
        if progress:
            progress("overlaps", done, total)

    found: list[Finding] = []
    for shared in shared_volumes(skins, count):
        i, j = whole[shared.first], whole[shared.second]
        limit = SHARED
        rounding = max(steps[i], steps[j])
        if (pieces[i].run, pieces[i].member) != (pieces[j].run, pieces[j].member):
            limit += rounding * min(skins[shared.first].area, skins[shared.second].area)
        elif any(pieces[n].is_faced or not pieces[n].is_level or pieces[n].square for n in (i, j)):
            # Faces that lean, or that are not one piece of arithmetic, come apart in the last digit.
            limit += rounding * LEANING * measure(pieces[i].profile).area
        found.append(Finding(table.OVERLAP, f"{pieces[i].name} and {pieces[j].name}", abs(shared.volume), limit))
    return found


def inspect_stl(body: Body, skins_volume: float, triangles: int) -> list[Finding]:
    """Check a whole scene's STL: closed, as many triangles as the pieces have, and the volume they enclose."""
    skin = surface(body)
    limit = body.step * skin.area + 1e-9 * abs(skins_volume)
    return [
        Finding(table.STL_CLOSED, body.name, unbalanced_edges(skin.triangles, len(skin.points)), 0),
        Finding(table.STL_TRIANGLES, body.name, abs(len(body.triangles) - triangles), 0),
        Finding(table.STL_VOLUME, body.name, abs(skin.volume - skins_volume), limit),
    ]
