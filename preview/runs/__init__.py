"""Runs: the back line of a path of molding in plan, walked as straights, corners and curves."""

from preview.runs.boxes import overlapping_pairs
from preview.runs.element import Element, Vec2, arc, straight, turn_between, turned
from preview.runs.layout import Corner, Curve, Run, Side, Step, Straight, lay_out, through_points

__all__ = [
    "Corner",
    "Curve",
    "Element",
    "Run",
    "Side",
    "Step",
    "Straight",
    "Vec2",
    "arc",
    "lay_out",
    "overlapping_pairs",
    "straight",
    "through_points",
    "turn_between",
    "turned",
]
