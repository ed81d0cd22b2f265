"""Runs that meet end to end: two square ends that stop at one place become a butt joint to be judged."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from preview.joinery.joint import Joint
from preview.joinery.piece import MemberRun, Piece
from preview.profiles import measure
from preview.runs import Vec2, overlapping_pairs

MEETS_WITHIN = 0.01
SAME_HEADING = 1e-6
CLOSE = 10.0
"""Ends of two runs this near, mm, that do not meet are worth a word."""


@dataclass(frozen=True)
class End:
    """One free end of a member run: where it is, which way it looks (away from the wood), and the room's side."""

    line: MemberRun
    piece: Piece
    joint: Joint
    at_end: bool

    @property
    def looks(self) -> Vec2:
        """The unit plan direction away from the wood."""
        x, y = self.joint.before.tangent
        return (x, y) if self.at_end else (-x, -y)

    @cached_property
    def foot(self) -> float:
        """The height of the profile's lowest point here, mm."""
        return self.joint.height + measure(self.piece.profile).h_min


@dataclass(frozen=True)
class Meeting:
    """Two free ends of different runs that meet in a butt joint, whichever way each run was walked."""

    joint: Joint
    first: End
    second: End


@dataclass(frozen=True)
class NearMiss:
    """Two free ends of different runs that come close and are no joint: how far apart (mm), and why."""

    first: str
    second: str
    apart: float
    why: str


def meeting_ends(member_runs: Sequence[MemberRun]) -> tuple[list[Meeting], list[NearMiss]]:
    """The butt joints between different runs, and the ends that come within 10 mm of one another without meeting.

    Two ends meet when they stop at one place in plan, within 0.01 mm, looking at each other, with the room on one side;
    at heights that differ by more than 10 mm they have nothing to do with one another.
    Members pair by name; where each run has just one member, that one pairs with the other.
    """
    members: dict[str, int] = {}
    for line in member_runs:
        members[line.run.name] = members.get(line.run.name, 0) + 1
    found: list[Meeting] = []
    near: list[NearMiss] = []
    ends = [end for line in member_runs for end in _free_ends(line)]
    places = np.array([(*end.joint.at, end.foot) for end in ends]).reshape(-1, 3)
    for i, j in overlapping_pairs(places, places, CLOSE).tolist():
        first, second = ends[i], ends[j]
        one, other = first.line, second.line
        alone = members[one.run.name] == members[other.run.name] == 1
        if one.run.stand != other.run.stand:
            continue  # each lies in a plan of its own, and their numbers tell nothing of one another
        if one.run.name == other.run.name or (one.member != other.member and not alone):
            continue
        apart = math.dist(first.joint.at, second.joint.at)
        if apart > CLOSE or abs(first.foot - second.foot) > CLOSE:
            continue
        facing = math.dist(first.looks, (-second.looks[0], -second.looks[1])) <= SAME_HEADING
        same_room = math.dist(first.joint.before.normal, second.joint.before.normal) <= SAME_HEADING
        if apart <= MEETS_WITHIN and facing and same_room:
            before, after = (first, second) if first.at_end else (second, first)
            name = f"{before.line.name} to {after.line.name} butt"
            joint = replace(before.joint, name=name, kind="butt")
            found.append(Meeting(joint, before, after))
        else:
            why = "they do not lie in one line" if not (facing and same_room) else "a gap is left between them"
            near.append(NearMiss(one.name, other.name, apart, why))
    return found, near


def _free_ends(line: MemberRun) -> Iterator[End]:
    if not line.run.closed:
        ends = (
            End(line, line.pieces[0], line.joints[0], at_end=False),
            End(line, line.pieces[-1], line.joints[-1], at_end=True),
        )
        yield from (end for end in ends if end.joint.kind == "square end" and end.piece.role == "molding")
