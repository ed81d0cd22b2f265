"""The inspection: every check on models read back from disk."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from preview.checks import findings as table
from preview.checks.continuity import Meeting, Rim
from preview.checks.findings import Finding
from preview.checks.looking import Job, Progress, looked_at, looked_at_stl
from preview.checks.readers import Body, Floats, stl_count
from preview.checks.standing import JointPair, joint_findings
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


def inspect_stl(path: Path, skins_volume: float, triangles: Sequence[int], workers: int = 0) -> list[Finding]:
    """Check a whole scene's STL: closed, as many triangles as the pieces have, and the volume they enclose.

    triangles: of each piece, in the file's order. Raises PreviewError where it is no whole STL.
    """
    count, stops = stl_count(path), np.cumsum(triangles)
    # Piece after piece, some at a time: what is balanced in parts is balanced as a whole. What is not may be closed by
    # other parts of the file, so then all of it is taken at once.
    some = stops[np.unique(np.searchsorted(stops[:-1], np.arange(AT_A_TIME, count, AT_A_TIME)))]
    bounds = [0, *(bound for bound in some.tolist() if bound < count), count]
    found = looked_at_stl(path, list(pairwise(bounds)), workers)
    if any(part.unbalanced for part in found):
        found = looked_at_stl(path, [(0, count)], 0)
    volume, area = math.fsum(part.volume for part in found), math.fsum(part.area for part in found)
    limit = max(part.step for part in found) * area + 1e-9 * abs(skins_volume)
    return [
        Finding(table.STL_CLOSED, path.stem, sum(part.unbalanced for part in found), 0),
        Finding(table.STL_TRIANGLES, path.stem, abs(count - int(stops[-1])), 0),
        Finding(table.STL_VOLUME, path.stem, abs(volume - skins_volume), limit),
    ]
