"""Runs: the back line of a path of molding in plan, walked as straights, corners and curves."""

from preview.runs.boxes import overlapping_pairs
from preview.runs.closing import CLOSES_WITHIN
from preview.runs.element import Element, Vec2, arc, straight, turn_between, turned
from preview.runs.ends import BEVELS, ENDS, RETURNED, STEEPEST, Bevel, EndWay, run_back
from preview.runs.layout import lay_out, through_points
from preview.runs.run import IN_PLAN, Run, Side, Stand
from preview.runs.scarf import scarfed
from preview.runs.steps import (
    LEAST_TURNS,
    MITER,
    MOST_TURNS,
    Block,
    Corner,
    Curve,
    Easement,
    JointWay,
    Splay,
    Step,
    Straight,
    Way,
)
from preview.runs.survey import Survey, SurveyFigure, adjusted_steps, survey_run
from preview.runs.survey_adjust import Adjustment, Corrected, adjust
from preview.runs.survey_traverse import Arrival, Closing, Closure, Measured, Reading, Traverse, closure, traverse
from preview.runs.survey_words import survey_rows, survey_sentences

__all__ = [
    "BEVELS",
    "CLOSES_WITHIN",
    "ENDS",
    "IN_PLAN",
    "LEAST_TURNS",
    "MITER",
    "MOST_TURNS",
    "RETURNED",
    "STEEPEST",
    "Adjustment",
    "Arrival",
    "Bevel",
    "Block",
    "Closing",
    "Closure",
    "Corner",
    "Corrected",
    "Curve",
    "Easement",
    "Element",
    "EndWay",
    "JointWay",
    "Measured",
    "Reading",
    "Run",
    "Side",
    "Splay",
    "Stand",
    "Step",
    "Straight",
    "Survey",
    "SurveyFigure",
    "Traverse",
    "Vec2",
    "Way",
    "adjust",
    "adjusted_steps",
    "arc",
    "closure",
    "lay_out",
    "overlapping_pairs",
    "run_back",
    "scarfed",
    "straight",
    "survey_rows",
    "survey_run",
    "survey_sentences",
    "through_points",
    "traverse",
    "turn_between",
    "turned",
]
