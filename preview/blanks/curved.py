"""A curved piece as a shop has to make it: the round it is part of, and the wedge of that round it fills."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.blanks.landmarks import landmarks
from preview.errors import PreviewError
from preview.joinery import JointKind, Piece, exact_volume
from preview.profiles import Profile, measure
from preview.units import degrees_text

SAMPLES = 257
"""Projections at which an end that is not square is followed."""


@dataclass(frozen=True)
class CurveEnd:
    """One end of a curved piece.

    square: cut on a plane through the curve's axis. straight: a straight meets it there, tangent to the curve.
    past: how far, radians, wood stands past the end of the curve itself, at most; - where the cut takes all of it.
    """

    kind: JointKind
    square: bool
    straight: bool
    past: float

    @property
    def words(self) -> str:
        """How the end is cut."""
        if self.square:
            return "an end that runs on smoothly is sawn square to the curve"
        if self.kind == "curved miter":
            return "curved miter: sawn square past the joint, then cut to a template"
        return f"{self.kind}: sawn square past the joint, then trimmed to its plane"


@dataclass(frozen=True)
class Curved:
    """The round that a curved piece is part of, mm and radians.

    outer, inner: the finished radii, from the exact extents of the profile. height: of the profile. wraps: the molding
    wraps an outside corner, so that its face is on the outside of the round; else it lines a curve and its face is
    inside. sweep: of the curve. wedge: the angle between two planes through the axis that hold all of the wood.
    volume: of the finished piece, mm³.
    """

    name: str
    profile: Profile
    back_radius: float
    outer: float
    inner: float
    height: float
    wraps: bool
    sweep: float
    wedge: float
    ends: tuple[CurveEnd, CurveEnd]
    volume: float

    @property
    def meets_straights(self) -> bool:
        """Whether a straight meets both ends squarely, so that a little may be moved from one to the other."""
        return all(end.square and end.straight for end in self.ends)

    @property
    def depth(self) -> float:
        """How deep the section is, radially."""
        return self.outer - self.inner

    @property
    def least_face(self) -> float:
        """The least radius of any part of the face."""
        marks = landmarks(self.profile, self.back_radius, self.wraps)
        return min((mark.diameter / 2 for mark in marks), default=self.inner)


def curved(piece: Piece) -> Curved:
    """What the shop needs to know of a curved piece. Raises PreviewError for one that does not curve in plan."""
    bend = piece.curvature
    if not bend:
        raise PreviewError(
            piece.name, None, f"this piece is a {piece.kind}, and only a curve is made from a round blank", "cut it"
        )
    if not piece.is_level:
        raise PreviewError(
            piece.name,
            None,
            "this curve climbs or its section is raked, and a blank turned or bent in one plane cannot follow it",
            "carve it from a blank made to a full-size drawing",
        )
    size = measure(piece.profile)
    radius, wraps = 1.0 / abs(bend), bend < 0
    outer = radius + size.d_max if wraps else radius - size.d_min
    inner = radius + size.d_min if wraps else radius - size.d_max
    sweep = abs(piece.element.sweep)
    starts, stops = piece.stations(np.linspace(size.d_min, size.d_max, SAMPLES))
    before, after = -float(starts.min()) / radius, float(stops.max()) / radius - sweep
    ends = tuple(
        CurveEnd(
            cut.kind, cut.is_square, cut.kind == "tangent" and not beyond.curvature, 0.0 if cut.is_square else past
        )
        for cut, beyond, past in (
            (piece.begin, piece.begin.before, before),
            (piece.end, piece.end.after, after),
        )
    )
    return Curved(
        piece.name,
        piece.profile,
        radius,
        outer,
        inner,
        size.h_max - size.h_min,
        wraps,
        sweep,
        sweep + ends[0].past + ends[1].past,
        (ends[0], ends[1]),
        exact_volume(piece),
    )


def described(piece: Curved) -> str:
    """Where the face is, in a sentence."""
    turn = degrees_text(piece.sweep)
    if piece.wraps:
        return f"It wraps an outside curve of {turn}: the face is on the outside of the round."
    return f"It lines an inside curve of {turn}: the face is on the inside of the round."
