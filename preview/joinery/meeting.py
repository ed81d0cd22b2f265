"""Runs that meet end to end: two square ends that stop at one place become a butt joint to be judged."""

from __future__ import annotations

import math
from collections.abc import Sequence

from preview.joinery.joint import Joint
from preview.joinery.piece import MemberRun, Piece

MEETS_WITHIN = 0.01
SAME_HEADING = 1e-6


def meeting_ends(member_runs: Sequence[MemberRun]) -> list[tuple[Joint, Piece, Piece]]:
    """The butt joints between different runs: (joint, piece that ends there, piece that begins there).

    Two runs meet when one stops where the other starts, within 0.01 mm, heading the same way with the room on the
    same side. Members pair by name; where each run has just one member, that one pairs with the other.
    """
    members: dict[str, int] = {}
    for line in member_runs:
        members[line.run.name] = members.get(line.run.name, 0) + 1
    open_lines = [line for line in member_runs if not line.run.closed]
    found: list[tuple[Joint, Piece, Piece]] = []
    for first in open_lines:
        for second in open_lines:
            if first.run.name == second.run.name or first.run.hand != second.run.hand:
                continue
            alone = members[first.run.name] == members[second.run.name] == 1
            if first.member != second.member and not alone:
                continue
            stop, go = first.joints[-1], second.joints[0]
            along = math.dist(stop.before.tangent, go.after.tangent)
            if math.dist(stop.at, go.at) <= MEETS_WITHIN and along <= SAME_HEADING:
                name = f"{first.name} to {second.name} butt"
                joint = Joint(name, "butt", stop.at, stop.before, go.after)
                found.append((joint, first.pieces[-1], second.pieces[0]))
    return found
