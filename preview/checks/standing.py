"""Every joint of a job measured on its bodies, each kind of joint by its own rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.checks import findings as table
from preview.checks.contact import against, coped, standing_near
from preview.checks.continuity import Meeting, Rim, meeting, rim
from preview.checks.findings import Finding
from preview.checks.place import Laid
from preview.checks.readers import Body
from preview.checks.surface import Surface
from preview.joinery import Joint, Piece

FLUSH = 0.002
"""How far, mm, a vertex may lie off the profile, and profiles apart at a joint."""
LEAST_ANGLE = 0.5


@dataclass(frozen=True)
class JointPair:
    """A joint with the pieces it stands between, by their index in the job; None where nothing stands.

    before_at_end, after_at_end: which end of each piece it is; runs may be walked toward each other.
    """

    joint: Joint
    before: int | None
    after: int | None
    before_at_end: bool = True
    after_at_end: bool = False


def joint_findings(joint: Joint, measured: Meeting, rounding: float) -> list[Finding]:
    """The findings of one joint; rounding: what is allowed beside the limits, mm."""
    name, detail = joint.name, measured.missing
    found = [Finding(table.GAP, name, measured.gap, FLUSH + rounding, measured.gap_at, detail)]
    if measured.step is not None:
        found.append(Finding(table.STEP, name, measured.step, FLUSH + rounding, measured.step_at, detail))
    if measured.angle is not None:
        found.append(Finding(table.ANGLE, name, measured.angle, LEAST_ANGLE, measured.angle_at, detail))
    return found


@dataclass(frozen=True)
class Measured:
    """A joint measured, the rounding to be allowed, mm, and the two end faces, where they are seen."""

    meeting: Meeting
    rounding: float
    rims: tuple[Rim | None, Rim | None]


@dataclass(frozen=True)
class Standing:
    """The bodies as they were found, in the pieces' order; None for a piece that was not."""

    pieces: Sequence[Piece]
    have: Sequence[Body | None]
    surfaces: Sequence[Surface | None]
    placed: Sequence[Laid | None]

    def rim(self, i: int, ends: bool) -> Rim | None:
        body, skin, placed, piece = self.have[i], self.surfaces[i], self.placed[i], self.pieces[i]
        joint = piece.end if ends else piece.begin
        if body is None or skin is None or placed is None:
            return None
        return rim(body, skin, placed, piece, joint, ends)

    def rounding(self, *numbers: int) -> float:
        """What 32-bit numbers cannot hold where bodies of different lines meet, mm."""
        return max((2 * body.step for i in numbers if (body := self.have[i]) is not None), default=0.0)

    def joint(self, pair: JointPair) -> Measured | None:
        """What is measured at a joint; None at a free end."""
        kind = pair.joint.kind
        if pair.before is not None and pair.after is not None:
            if kind == "cope":
                return self._cope(pair.before, pair.after)
            if kind == "block":
                return self._on_block(pair, pair.before, pair.after)
            one, other = self.rim(pair.before, pair.before_at_end), self.rim(pair.after, pair.after_at_end)
            return Measured(meeting(pair.joint, one, other), 0.0, (one, other))
        if kind == "butt end":
            return self._butt(pair)
        return None

    def _cope(self, before: int, after: int) -> Measured:
        ends = self.pieces[before].end.faced is not None
        mine, other = (before, after) if ends else (after, before)
        skin, against_ = self.surfaces[mine], self.surfaces[other]
        rounding = self.rounding(mine, other)
        if skin is None or against_ is None:
            return Measured(Meeting(float("inf"), None, None, missing="a body is missing"), rounding, (None, None))
        # Only the piece that runs on to the wall has an end face in one plane.
        rims = (None, self.rim(after, False)) if ends else (self.rim(before, True), None)
        return Measured(coped(self.pieces[mine], ends, skin, against_, rounding), rounding, rims)

    def _on_block(self, pair: JointPair, before: int, after: int) -> Measured:
        ends = self.pieces[after].role == "block"
        mine, other = (before, after) if ends else (after, before)
        at_end = pair.before_at_end if ends else pair.after_at_end
        edge = self.rim(mine, at_end)
        found = against(pair.joint, self.pieces[mine], edge, self.surfaces[other])
        return Measured(found, self.rounding(mine, other), (edge, None) if ends else (None, edge))

    def _butt(self, pair: JointPair) -> Measured:
        ends = pair.before is not None
        mine = pair.before if pair.before is not None else pair.after
        if mine is None:
            raise ValueError("a joint has a piece on one side at least")
        edge = self.rim(mine, ends)
        line = (self.pieces[mine].run, self.pieces[mine].member)
        others = [
            (i, skin)
            for i, skin in enumerate(self.surfaces)
            if skin is not None and (self.pieces[i].run, self.pieces[i].member) != line
        ]
        near = standing_near(edge, self.pieces[mine], others) if edge is not None else None
        other = self.surfaces[near] if near is not None else None
        rounding = self.rounding(mine, *([] if near is None else [near]))
        return Measured(against(pair.joint, self.pieces[mine], edge, other), rounding, (edge, None))
