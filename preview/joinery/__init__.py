"""Joinery: where each profile point of a piece stops, and what that makes of a run."""

from preview.joinery.joint import (
    Joint,
    JointKind,
    Passage,
    Passages,
    cut_directions,
    joint_points,
    meet,
    passages,
    turned_on_curves,
)
from preview.joinery.meeting import Meeting, NearMiss, meeting_ends
from preview.joinery.piece import MemberRun, Piece, PieceKind, into_room, join, stations
from preview.joinery.volume import exact_volume, exact_volumes, integrated_volume, travel

__all__ = [
    "Joint",
    "JointKind",
    "Meeting",
    "MemberRun",
    "NearMiss",
    "Passage",
    "Passages",
    "Piece",
    "PieceKind",
    "cut_directions",
    "exact_volume",
    "exact_volumes",
    "integrated_volume",
    "into_room",
    "join",
    "joint_points",
    "meet",
    "meeting_ends",
    "passages",
    "stations",
    "travel",
    "turned_on_curves",
]
