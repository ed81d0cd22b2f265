"""Pieces (what is cut and installed) and the joining of a member along a run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from preview.errors import PreviewError, Problem
from preview.joinery.joint import Floats, Joint, JointKind, Passage, joint_kind, meet, passages
from preview.profiles import Profile, measure
from preview.runs import Element, Run, Vec2
from preview.units import Unit, degrees_text, show

PieceKind = Literal["straight", "curve"]

LEAST_PIECE = 0.1
"""A piece must keep at least this length, mm, at every point of its profile."""
FOLD_MARGIN = 1e-3
"""How much larger than the projection, mm, a lining curve's back radius must be."""
SAMPLES = 65


@dataclass(frozen=True)
class Piece:
    """One element of a run, carrying one member's profile between two joints.

    profile: placed, that is moved by the member's out and up shifts and the run's level, in (d, h), mm.
    hand: +1 when the room is on the left of travel, -1 on the right.
    index: the element's number in its run, from 1.
    """

    name: str
    run: str
    member: str
    index: int
    element: Element
    hand: int
    profile: Profile
    begin: Joint
    end: Joint

    @property
    def kind(self) -> PieceKind:
        """`straight` or `curve`."""
        return "curve" if self.element.curvature else "straight"

    @property
    def normal(self) -> Vec2:
        """The unit plan direction into the room at the element's start."""
        return into_room(self.element.tangent, self.hand)

    @property
    def curvature(self) -> float:
        """The back line's curvature, 1/mm: + when it lines the inside of a curve, - when it wraps the outside."""
        return self.hand * self.element.curvature

    def stations(self, d: Floats) -> tuple[Floats, Floats]:
        """Where profile points at projections d (n,) begin and stop: two (n,) arrays, mm along the back line."""
        starts, stops = stations([self], d)
        return starts[0], stops[0]


@dataclass(frozen=True)
class MemberRun:
    """One member all along one run: its pieces in order and the joints that begin and end them.

    Piece i begins at joints[i] and ends at joints[i + 1]; in a closed run the last piece ends at joints[0].
    """

    name: str
    run: Run
    member: str
    profile: Profile
    pieces: tuple[Piece, ...]
    joints: tuple[Joint, ...]


def into_room(tangent: Vec2, hand: int) -> Vec2:
    """The unit normal on the room's side of a unit direction of travel."""
    return (-hand * tangent[1], hand * tangent[0])


def stations(pieces: Sequence[Piece], d: Floats) -> tuple[Floats, Floats]:
    """Where profile points at projections d (n,) begin and stop on many pieces: two (P, n) arrays, mm."""
    begins = passages([piece.begin for piece in pieces])
    ends = passages([piece.end for piece in pieces])
    lengths = np.array([piece.element.length for piece in pieces])
    starts = begins[1].stations_at(meet(*begins, d))
    return starts, lengths[:, None] + ends[0].stations_at(meet(*ends, d))


def join(run: Run, member: str, profile: Profile, *, unit: Unit = "mm") -> MemberRun:
    """Cut a member's profile to a run: every piece with its two joints.

    `profile` is already moved by the member's shifts; the run's level is added here. `unit` is how lengths are
    spoken of in errors. Raises PreviewError, with the numbers, when a curve folds the face, when the offset curves
    at a corner do not meet, when a piece is consumed by its two cuts, or when a curve comes round onto itself.
    """
    placed = profile.moved(0.0, run.level)
    size = measure(placed)
    if size.d_max <= 0:
        raise PreviewError(
            f'run "{run.name}", member "{member}"',
            None,
            f"the member lies wholly inside the wall: it ends {show(-size.d_max, unit)} behind the wall line",
            "make its out larger",
        )
    _refuse_folds(run, member, size.d_min, size.d_max, unit)
    joints = _joints(run, member)
    _refuse_unmet(run, member, joints, size.d_min, size.d_max, unit)
    pieces = tuple(
        Piece(
            name=f"{run.name} / {member} / {i + 1} {'curve' if element.curvature else 'straight'}",
            run=run.name,
            member=member,
            index=i + 1,
            element=element,
            hand=run.hand,
            profile=placed,
            begin=joints[i],
            end=joints[(i + 1) % len(joints)],
        )
        for i, element in enumerate(run.elements)
    )
    _refuse_lengths(run, member, pieces, size.d_min, size.d_max, unit)
    return MemberRun(f"{run.name} / {member}", run, member, placed, pieces, joints)


def _passage(element: Element, tangent: Vec2, hand: int) -> Passage:
    return Passage(tangent, into_room(tangent, hand), hand * element.curvature)


def _joints(run: Run, member: str) -> tuple[Joint, ...]:
    elements, hand = run.elements, run.hand
    title = f"{run.name} / {member}"
    joints: list[Joint] = []
    for i, element in enumerate(elements):
        after = _passage(element, element.tangent, hand)
        if i == 0 and not run.closed:
            joints.append(Joint(f"{title} / begin", "square end", element.start, after, after))
            continue
        earlier = elements[i - 1]
        turn = hand * run.turns[i]
        tangent = earlier.end_tangent if turn else element.tangent
        before = _passage(earlier, tangent, hand)
        kind: JointKind = joint_kind(turn, before.curvature, after.curvature)
        label = f"{i or len(elements)}-{i + 1}"
        joints.append(Joint(f"{title} / {label} {kind}", kind, element.start, before, after, turn))
    if not run.closed:
        last = elements[-1]
        before = _passage(last, last.end_tangent, hand)
        joints.append(Joint(f"{title} / end", "square end", last.end, before, before))
    return tuple(joints)


def _place(run: Run, member: str, i: int) -> str:
    return f'run "{run.name}", {run.places[i]}, member "{member}"'


def _refuse_folds(run: Run, member: str, d_min: float, d_max: float, unit: Unit) -> None:
    problems: list[Problem] = []
    for i, element in enumerate(run.elements):
        k = run.hand * element.curvature
        reach = d_max if k > 0 else -d_min
        if k and element.radius < reach + FOLD_MARGIN:
            side = "projection" if k > 0 else "depth behind the wall line"
            problems.append(
                Problem(
                    _place(run, member, i),
                    None,
                    f"the curve's back radius {show(element.radius, unit)} is not larger than the profile's {side} "
                    f"{show(reach, unit)}, so its face would fold",
                    f"use a radius over {show(reach, unit)} or a shallower profile",
                )
            )
    if problems:
        raise PreviewError.several(problems)


def _refuse_unmet(run: Run, member: str, joints: Sequence[Joint], d_min: float, d_max: float, unit: Unit) -> None:
    problems: list[Problem] = []
    for i, joint in enumerate(joints):
        if joint.kind not in ("miter", "curved miter"):
            continue
        reach = joint.reach()
        behind = -replace(joint, before=_flipped(joint.before), after=_flipped(joint.after), turn=-joint.turn).reach()
        if reach > d_max * (1 + 1e-9) and behind < d_min * (1 + 1e-9) + 1e-12:
            continue
        if reach <= d_max * (1 + 1e-9):
            said = f"{show(reach, unit)} out, and the profile projects {show(d_max, unit)}"
        else:
            said = f"{show(-behind, unit)} behind the wall line, and the profile reaches back {show(-d_min, unit)}"
        problems.append(
            Problem(
                _place(run, member, i % len(run.elements)),
                None,
                f"at this {degrees_text(abs(joint.turn))} corner the two faces stop meeting at {said}",
                "use a larger radius, a smaller corner, a shallower profile, or let the curve meet the straight "
                "smoothly",
            )
        )
    if problems:
        raise PreviewError.several(problems)


def _flipped(passage: Passage) -> Passage:
    """The same back line seen from the other side of the wall."""
    (nx, ny), k = passage.normal, passage.curvature
    return Passage(passage.tangent, (-nx, -ny), -k)


def _refuse_lengths(run: Run, member: str, pieces: Sequence[Piece], d_min: float, d_max: float, unit: Unit) -> None:
    d = np.linspace(d_min, d_max, SAMPLES)
    starts, stops = stations(pieces, d)
    left = stops - starts
    problems: list[Problem] = []
    walked = left * np.abs([piece.curvature for piece in pieces])[:, None]
    for i in np.flatnonzero(walked.max(axis=1) >= 2 * np.pi).tolist():
        at = int(np.argmax(walked[i]))
        problems.append(
            Problem(
                _place(run, member, i),
                None,
                f"the curve comes round and meets itself: {show(float(d[at]), unit)} out from the wall line it turns "
                f"by {degrees_text(float(walked[i, at]))}",
                "end the curve sooner, or use a shallower profile",
            )
        )
    for i in np.flatnonzero(~(left.min(axis=1) >= LEAST_PIECE)).tolist():
        at = int(np.argmin(left[i]))
        gone = -float(left[i, at])
        said = f"they overlap by {show(gone, unit)}" if gone > 0 else f"they leave only {show(-gone, unit)}"
        more = math.ceil(max(gone, 0.0) + 1.0)
        problems.append(
            Problem(
                _place(run, member, i),
                None,
                f"the {pieces[i].kind} piece is consumed by its two cuts: {show(float(d[at]), unit)} out from the "
                f"wall line {said}",
                f"make it at least {show(float(more), unit)} longer, use a shallower profile, or change its corners",
            )
        )
    if problems:
        raise PreviewError.several(problems)
