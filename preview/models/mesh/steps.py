"""How finely to cut: steps along a curve, and levels of the face beside a curved miter, from the chord tolerance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.joinery import MemberRun, Passages, cut_directions, meet, passages, turned_on_curves
from preview.models.mesh.face import Floats, Ints, settle
from preview.profiles import Measures, measure
from preview.runs import Element

SHARE_SECTION, SHARE_SWEEP, SHARE_SHEAR = 0.4, 0.3, 0.05
"""How the chord tolerance is shared between the section's arcs, the steps along a curve, and the slant of the grid
beside a curved miter: the last two act along one direction, so their square roots add; the whole stays below 1."""
LEAST_STEPS = 2
CELLS = 128
MOST_SLABS = 4000


@dataclass(frozen=True)
class Cuts:
    """A member run as arrays: its cuts' two sides, and its pieces.

    begins, ends (P,): the cut at which each piece begins and ends. rise (J, 5): each cut's height, lean and up.
    frames (P, 6): start, tangent, normal into the room. lengths (P,): mm on the back line. bends (P,): curvature,
    signed toward the room.
    """

    size: Measures
    before: Passages
    after: Passages
    begins: Ints
    ends: Ints
    frames: Floats
    lengths: Floats
    bends: Floats
    rise: Floats

    @classmethod
    def of(cls, line: MemberRun) -> Cuts:
        """The arrays of a member run."""
        cuts, begins, ends = line.cuts
        before, after = passages(cuts)
        numbers = np.array(
            [(*p.element.start, *p.element.tangent, *p.normal, p.element.length, p.curvature) for p in line.pieces]
        )
        rise = np.array([(cut.height, cut.lean, *cut.up) for cut in cuts])
        return cls(
            measure(line.profile),
            before,
            after,
            np.array(begins),
            np.array(ends),
            numbers[:, :6],
            numbers[:, 6],
            numbers[:, 7],
            rise,
        )

    def stations(self, rings: Floats) -> tuple[Floats, Floats]:
        """Where each piece begins and stops (P, n), mm, for the joints' points (J, n, 2)."""
        starts = self.after.stations_at(rings)[self.begins]
        return starts, self.lengths[:, None] + self.before.stations_at(rings)[self.ends]


def spans_needed(line: MemberRun, chord: float, cuts: Cuts | None = None) -> Ints:
    """How many steps each piece needs along its travel: 1 for a straight, as many as the chord asks on a curve."""
    cuts = cuts or Cuts.of(line)
    spans = np.ones(len(cuts.bends), dtype=np.int64)
    for i, piece in enumerate(line.pieces):
        if piece.element.bend:
            spans[i] = _easement_steps(piece.element, chord)
    curves = np.flatnonzero(cuts.bends)
    if not len(curves):
        return spans
    size, k = cuts.size, cuts.bends[curves]
    travel = cuts.lengths[curves]
    if turned_on_curves(cuts.before, cuts.after).any():
        d = np.array([size.d_min, (size.d_min + size.d_max) / 2, size.d_max])
        starts, stops = cuts.stations(meet(cuts.before, cuts.after, d))
        travel = (stops - starts)[curves].max(axis=1)
    angle = travel * np.abs(k)
    radius = np.maximum(1 - k * size.d_min, 1 - k * size.d_max) / np.abs(k)
    sagitta = np.minimum(SHARE_SWEEP * chord, radius * 0.3)
    step = 2 * np.arccos(1 - sagitta / radius)
    spans[curves] = np.maximum(np.ceil(angle / step - 1e-9), LEAST_STEPS)
    return spans


def _easement_steps(element: Element, chord: float) -> int:
    """How many steps of one plan length keep to the chord on an arc in elevation: the steepest one decides."""
    radius = 1 / abs(element.bend)
    step = 2 * np.arccos(1 - min(SHARE_SWEEP * chord, radius * 0.3) / radius)
    steepest = max(abs(element.slope), abs(element.end_slope))
    # A step of ds in plan turns by at most bend ds / cos(pitch at its steep end).
    return max(LEAST_STEPS, int(np.ceil(element.length / radius * np.hypot(1.0, steepest) / step - 1e-9)))


def levels_needed(line: MemberRun, chord: float, size: Measures) -> tuple[float, ...]:
    """Where to cut the face of a member run that has curved cuts; none where every cut is plane and square to arcs."""
    bending = [joint for joint in line.joints if joint.turn and (joint.before.curvature or joint.after.curvature)]
    if not bending:
        return ()
    # Cells that crowd toward both ends, where a cut near its joint's reach turns ever faster: their borders at the
    # even samples, their middles at the odd ones.
    crowded = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 2 * CELLS + 1))
    d = (size.d_min + size.d_max + (size.d_max - size.d_min) * crowded) / 2
    before, after = passages(bending)
    curve = meet(before, after, d)
    direction = cut_directions(before, after, curve)
    borders = d[::2]
    # Plan mm travelled per mm of d; the same for both sides, whose normals the curve's direction halves.
    speed = 1 / np.einsum("jnk,jnk->jn", direction, before.normals_at(curve))[:, 1::2]
    # How fast the joint curve turns, per mm of d, from its directions; half the chord is left for it.
    turning = np.linalg.norm(np.diff(direction[:, ::2], axis=1), axis=2) / np.diff(borders)
    bends = [2 * turning * speed]
    for side in (before, after):
        # The slant of the grid: radians walked per mm of d, acting on the offset radius.
        k = side.curvature[:, None]
        bends.append(np.abs(k) * (speed**2 - 1) / np.abs(1 - k * d[1::2]) / SHARE_SHEAR)
    # A slab of the face may be (8 chord / bend)^1/2 wide: this many fit between d_min and each border.
    slabs = np.sqrt(np.max(bends, axis=(0, 1)) / (8 * chord)) * np.diff(borders)
    fitting = np.concatenate([[0.0], np.cumsum(slabs)])
    count = min(MOST_SLABS, int(np.ceil(fitting[-1] - 1e-9)))
    levels = np.interp(np.arange(1, count) / max(count, 1) * fitting[-1], fitting, borders)
    return settle(size.d_min, size.d_max, levels, [edge.start[0] for edge in line.profile.edges])
