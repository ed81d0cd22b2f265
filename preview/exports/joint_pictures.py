"""The drawing of each joint: the sections of both pieces as they stand there, from what was measured on the model."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from preview.build import Built
from preview.checks import JOINT_CHECKS, Finding, Inspection, JointPair, Meeting, Rim
from preview.drafting import DrawingUnit
from preview.exports.joint_drawing import JointDrawing
from preview.exports.joint_drawing_notes import JointFigure
from preview.exports.joint_drawing_shapes import Floats, outline_of
from preview.joinery import Joint, Piece
from preview.profiles import Line, Profile, measure
from preview.runs import IN_PLAN
from preview.units import degrees_text

MOST_DRAWN = 200
"""Jobs with more joints than this have only those drawn that fail, and one of each kind."""


def drawn_joints(built: Built, inspection: Inspection) -> list[JointDrawing | None]:
    """A drawing for each joint between two pieces; None for free ends, and for what a large job leaves out."""
    failed = {finding.subject for finding in inspection.findings if not finding.holds}
    limits = {(f.subject, f.check.code): f for f in inspection.findings if f.check.code in JOINT_CHECKS}
    unit: DrawingUnit = "in" if built.scene.units in ("in", "ft") else "mm"
    few = sum(measured is not None for measured in inspection.meetings) <= MOST_DRAWN
    seen: set[str] = set()
    found: list[JointDrawing | None] = []
    for pair, measured, rims in zip(built.joints, inspection.meetings, inspection.rims, strict=True):
        wanted = few or pair.joint.name in failed or pair.joint.kind not in seen
        if measured is None or pair.before is None or pair.after is None or not wanted:
            found.append(None)
            continue
        seen.add(pair.joint.kind)
        found.append(_drawing(built, pair, pair.before, pair.after, measured, rims, limits, unit))
    return found


def _drawing(
    built: Built,
    pair: JointPair,
    before: int,
    after: int,
    measured: Meeting,
    rims: tuple[Rim | None, Rim | None],
    limits: dict[tuple[str, str], Finding],
    unit: DrawingUnit,
) -> JointDrawing:
    joint = pair.joint
    pieces = built.pieces[before], built.pieces[after]
    blocks = [piece.role == "block" for piece in pieces]
    molding = pieces[1] if blocks[0] else pieces[0]
    foot = joint.height + measure(molding.profile).h_min
    sides = [
        _block(molding, piece, foot) if block else _outline(joint, piece, rim, foot)
        for piece, block, rim in zip(pieces, blocks, rims, strict=True)
    ]
    names = [piece.name for piece in pieces]
    if blocks[0]:  # the block is drawn second: it need only cover the molding
        sides.reverse()
        names.reverse()
    return JointDrawing(
        joint.name,
        "mitered return" if any(piece.role == "return" for piece in pieces) else _subtitle(joint),
        sides[0],
        sides[1],
        names[0],
        names[1],
        _figures(joint, measured, limits, measure(molding.profile).h_min),
        unit,
        covered=any(blocks),
        wall="left" if molding.stand == IN_PLAN else "below",
    )


def _subtitle(joint: Joint) -> str:
    if not joint.turn:
        return joint.kind
    side = "inside" if joint.turn > 0 else "outside"
    return f"{joint.kind}, {side} corner of {degrees_text(math.pi - abs(joint.turn))} between the walls"


def _figures(
    joint: Joint, measured: Meeting, limits: dict[tuple[str, str], Finding], foot: float
) -> tuple[JointFigure, ...]:
    found: list[JointFigure] = []
    for name, value, at in (
        ("gap", measured.gap, measured.gap_at),
        ("step", measured.step, measured.step_at),
        ("angle", measured.angle, measured.angle_at),
    ):
        finding = limits.get((joint.name, name))
        if value is not None and finding is not None:
            place = None if at is None else (at[0], at[1] - foot)
            found.append(JointFigure(name, value, finding.limit, place))  # type: ignore[arg-type]
    return tuple(found)


def _outline(joint: Joint, piece: Piece, rim: Rim | None, foot: float) -> Profile | Floats | None:
    """An end face as it stands: out from its own wall, and up in space; a coped piece's own profile."""
    if rim is None:
        return piece.profile.moved(0.0, joint.height - foot) if joint.kind == "cope" else None
    standing = np.column_stack([rim.profile[:, 0], rim.starts[:, 2] - foot])
    return outline_of(rim.starts, rim.stops, standing)


def _block(molding: Piece, block: Piece, foot: float) -> Profile:
    """A block's face as the molding that butts against it sees it."""
    if block.stand == molding.stand:
        return block.profile.moved(0.0, block.element.height - foot)
    low, high = block.stand.origin, block.element.length
    rise = float(np.dot(np.array(low) - np.array(molding.stand.origin), np.array(molding.stand.z)))
    # A corner block's outline lies in the run's plan: how far it stands out from this piece's wall.
    corners = np.array([edge.start for edge in block.profile.edges]) - np.array(molding.element.start)
    out = float((corners @ np.array(molding.normal)).max())
    points = ((0.0, rise - foot), (out, rise - foot), (out, rise + high - foot), (0.0, rise + high - foot))
    return Profile(block.name, tuple(Line(a, b) for a, b in zip(points, _after(points), strict=True)))


def _after(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    return [*points[1:], points[0]]
