"""The inspection: every check on models read back from disk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from preview.checks import findings as table
from preview.checks.continuity import Meeting, Rim
from preview.checks.findings import Finding
from preview.checks.looking import Job, Progress, looked_at
from preview.checks.readers import Body, Floats
from preview.checks.standing import JointPair, joint_findings
from preview.checks.surface import measures, unbalanced_edges, weld
from preview.joinery import Piece

AT_A_TIME = 20_000
"""About how many triangles of an STL are held against each other at a time."""


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
    workers: int = 0,
) -> Inspection:
    """Check a model's bodies against the pieces they should be.

    volumes (P,): the closed form, mm³. chord: the tolerance the model was made to, mm. Bodies whose names are no
    piece's are passed over (surroundings); a piece whose body is missing or stands twice fails. workers: how many
    processes share the work where there is much of it; what is found is the same.
    """
    tell = progress or (lambda *_: None)
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
    job = Job(tuple(pieces), tuple(have), tuple(joints), tuple(volumes.tolist()), chord)
    seen = looked_at(job, tell, workers)
    for on_its_own in seen.alone:
        found += on_its_own
    found += [seen.overlaps[pair] for pair in sorted(seen.overlaps)]
    measured = [seen.joints.get(number) for number in range(len(joints))]
    for pair, each in zip(joints, measured, strict=True):
        if each is not None:
            found += joint_findings(pair.joint, each.meeting, each.rounding)
    return Inspection(
        tuple(found),
        tuple(each.meeting if each is not None else None for each in measured),
        tuple(seen.volumes),
        tuple(each.rims if each is not None else (None, None) for each in measured),
    )


def inspect_stl(body: Body, skins_volume: float, triangles: Sequence[int]) -> list[Finding]:
    """Check a whole scene's STL: closed, as many triangles as the pieces have, and the volume they enclose.

    triangles: of each piece, in the file's order.
    """
    stops = np.cumsum(triangles)
    # Piece after piece, some at a time: what is balanced in parts is balanced as a whole. What is not may be closed by
    # other parts of the file, so then all of it is taken at once.
    some = stops[np.unique(np.searchsorted(stops, np.arange(AT_A_TIME, len(body.triangles), AT_A_TIME)))]
    unbalanced, volume, area = _loose(body, [0, *some.tolist(), len(body.triangles)])
    if unbalanced:
        unbalanced, volume, area = _loose(body, [0, len(body.triangles)])
    limit = body.step * area + 1e-9 * abs(skins_volume)
    return [
        Finding(table.STL_CLOSED, body.name, unbalanced, 0),
        Finding(table.STL_TRIANGLES, body.name, abs(len(body.triangles) - int(stops[-1])), 0),
        Finding(table.STL_VOLUME, body.name, abs(volume - skins_volume), limit),
    ]


def _loose(body: Body, bounds: Sequence[int]) -> tuple[int, float, float]:
    """Of loose triangles, taken from bound to bound: edges that are not balanced, volume in mm³, area in mm²."""
    unbalanced, volume, area = 0, 0.0, 0.0
    for first, last in pairwise(bounds):
        points, triangles = weld(body.vertices[3 * first : 3 * last])
        triangles = triangles.reshape(-1, 3)
        whole = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
        unbalanced += unbalanced_edges(triangles[whole], len(points))
        part = measures(points, triangles)
        volume, area = volume + part[0], area + part[1]
    return unbalanced, volume, area
