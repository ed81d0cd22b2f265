"""Pieces: what is cut and installed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from preview.joinery.faced import Faced, FacedStraight, Frame, Limit, plane_cut
from preview.joinery.joint import UPRIGHT, Floats, Joint, Vec3, joint_rings, meet, passages
from preview.profiles import Profile
from preview.runs import IN_PLAN, Element, Run, Stand, Vec2

PieceKind = Literal["straight", "curve", "easement", "return", "block"]


@dataclass(frozen=True)
class Piece:
    """One element of a run, carrying one member's profile between two joints.

    profile: placed, that is moved by the member's out and up shifts and the run's level, in (d, h), mm.
    hand: +1 when the room is on the left of travel, -1 on the right.
    index: the element's number in its run, from 1.
    shear: how much higher the section stands for each mm out, so that it meets a raked neighbor at a plumb cut.
    square: whether a climbing straight carries its profile square to the rake, not plumb.
    stand: where the run's plan lies in the scene.
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
    shear: float = 0.0
    square: bool = False
    stand: Stand = IN_PLAN
    role: Literal["molding", "return", "block"] = "molding"

    @property
    def kind(self) -> PieceKind:
        """What is made: a straight, a curve, an easement, a return, or a block."""
        if self.role != "molding":
            return self.role
        return "curve" if self.element.curvature else "easement" if self.element.bend else "straight"

    @property
    def normal(self) -> Vec2:
        """The unit plan direction into the room at the element's start."""
        return into_room(self.element.tangent, self.hand)

    @property
    def curvature(self) -> float:
        """The back line's curvature, 1/mm: + when it lines the inside of a curve, - when it wraps the outside."""
        return self.hand * self.element.curvature

    @property
    def is_level(self) -> bool:
        """Whether profile points keep the height that the profile says, all along."""
        e = self.element
        return not (e.height or e.slope or e.bend or self.shear)

    @property
    def is_faced(self) -> bool:
        """Whether an end follows a face: a cope or a self-return."""
        return self.begin.faced is not None or self.end.faced is not None

    @property
    def tilt(self) -> float:
        """How far back in plan a point stands for each mm up: the pitch's sine on a section square to the rake."""
        return self.element.slope / math.hypot(1.0, self.element.slope) if self.square else 0.0

    @property
    def frame(self) -> Frame:
        """Where station, projection and height lead on a straight (on an easement or a curve, at its start).

        The station is measured in plan, so on a climbing straight the travel is longer than 1.
        """
        (x, y), (tx, ty), (nx, ny) = self.element.start, self.element.tangent, self.normal
        return Frame((x, y, self.element.height), (tx, ty, self.element.slope), (nx, ny, self.shear), self.up)

    @property
    def up(self) -> Vec3:
        """Where a point 1 mm up the profile stands."""
        if not self.tilt:
            return UPRIGHT
        tx, ty = self.element.tangent
        return (-self.tilt * tx, -self.tilt * ty, math.sqrt(1.0 - self.tilt**2))

    @property
    def pitch(self) -> float:
        """The angle, radians, at which a straight climbs; - where it comes down."""
        return math.atan(self.element.slope)

    @property
    def pace(self) -> float:
        """How far one travels along the piece for each mm of station: more than 1 where it climbs."""
        return math.hypot(1.0, self.element.slope)

    @property
    def faced(self) -> FacedStraight:
        """A level straight with an end that follows a face, as the kernels take it."""
        tx, ty = self.element.tangent
        begin, end = (
            plane_cut(cut.slant - side * math.tan(cut.turn / 2), cut.up[0] * tx + cut.up[1] * ty)
            if cut.faced is None
            else cut.faced
            for cut, side in ((self.begin, -1.0), (self.end, 1.0))
        )
        return FacedStraight(self.profile, self.frame, 0.0, begin, self.element.length, end)

    def stations(self, d: Floats, h: Floats | None = None, side: Limit = "below") -> tuple[Floats, Floats]:
        """Where profile points (d, h) (each (n,); h = 0 when left out) begin and stop: two (n,) arrays, mm in plan.

        side: which of the two places is meant where an end follows a face and that jumps.
        """
        starts, stops = stations([self], d, h, side)
        return starts[0], stops[0]


@dataclass(frozen=True)
class MemberRun:
    """One member all along one run: its pieces in order and the joints between them and at the ends.

    between: for each joint, the pieces before and after it by their number here; None where nothing of this member
    stands. blocks: for each joint, the label of the block that stands there, or "".
    """

    name: str
    run: Run
    member: str
    profile: Profile
    pieces: tuple[Piece, ...]
    joints: tuple[Joint, ...]
    between: tuple[tuple[int | None, int | None], ...]
    blocks: tuple[str, ...]

    @property
    def cuts(self) -> tuple[list[Joint], list[int], list[int]]:
        """Every cut there is, once, and by their number in it the ones that begin and end each piece."""
        number: dict[int, int] = {}
        found: list[Joint] = []
        ends: list[list[int]] = [[], []]
        for piece in self.pieces:
            for mine, cut in zip(ends, (piece.begin, piece.end), strict=True):
                if id(cut) not in number:
                    number[id(cut)] = len(found)
                    found.append(cut)
                mine.append(number[id(cut)])
        return found, ends[0], ends[1]


def into_room(tangent: Vec2, hand: int) -> Vec2:
    """The unit normal on the room's side of a unit direction of travel."""
    return (-hand * tangent[1], hand * tangent[0])


def stations(
    pieces: Sequence[Piece], d: Floats, h: Floats | None = None, side: Limit = "below"
) -> tuple[Floats, Floats]:
    """Where profile points (d, h) (each (n,)) begin and stop on many pieces: two (P, n) arrays, mm in plan.

    h may be left out where no cut depends on it; side: as in `Piece.stations`.
    """
    lengths = np.array([piece.element.length for piece in pieces])[:, None]
    starts = _past([piece.begin for piece in pieces], 1, d)
    stops = lengths + _past([piece.end for piece in pieces], 0, d)
    if h is not None:
        for i, piece in enumerate(pieces):
            if piece.square or piece.begin.up != UPRIGHT or piece.end.up != UPRIGHT:
                starts[i] += _leaning(piece, piece.begin, h)
                stops[i] += _leaning(piece, piece.end, h)
    for i, piece in enumerate(pieces):
        if piece.is_faced:
            up = np.zeros_like(d) if h is None else h
            if piece.begin.faced is not None:
                starts[i] = _along_face(piece.begin.faced, d, up, side)
            if piece.end.faced is not None:
                stops[i] = piece.element.length + _along_face(piece.end.faced, d, up, side)
    return starts, stops


def _along_face(faced: Faced, d: Floats, h: Floats, side: Limit) -> Floats:
    """Where points stop on a face; at its foot that is just above it, at its top just below."""
    low, high = faced.face.breaks[0], faced.face.breaks[-1]
    below, above = (faced.stations(d, h, each) for each in ("below", "above"))
    found: Floats = np.where((h <= low) | ((side == "above") & (h < high)), above, below)
    return found


def _past(cuts: Sequence[Joint], side: int, d: Floats) -> Floats:
    both = passages(cuts)
    return both[side].stations_at(meet(*both, d))


def _leaning(piece: Piece, cut: Joint, h: Floats) -> Floats:
    """How much further along the plan a point stops for standing at heights h (n,)."""
    tx, ty = piece.element.tangent
    return (cut.up[0] * tx + cut.up[1] * ty + piece.tilt) * h


def ring_of(piece: Piece, at_end: bool, d: Floats, h: Floats) -> Floats:
    """The points in space (n, 3), in the run's own frame, where profile points (d, h) of a piece begin or end."""
    cut = piece.end if at_end else piece.begin
    if cut.faced is None:
        points: Floats = joint_rings([cut], d, h)[0]
        return points
    return piece.frame.points(piece.stations(d, h)[int(at_end)], d, h)
