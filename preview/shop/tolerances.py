"""Published limits for joints in millwork, as data. Only figures that were read in the source named are here.

Check clause numbers against the edition that a contract names: standards change.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from preview.scene import GAP_GRADES, GapGrade

Grade = GapGrade
GRADES: tuple[Grade, ...] = GAP_GRADES
Kind = Literal["gap", "flushness"]

INSTALLED = "ANSI/AWI 0620 (2018 and 2024)"
"""Finish Carpentry / Installation."""
STANDARDS_2009 = "Architectural Woodwork Standards, 1st ed. (2009)"


@dataclass(frozen=True)
class Tolerance:
    """One published limit.

    clause: where it stands. what: which joint. limits: mm for each grade that has one, largest opening or step allowed.
    note: what else the clause says, or how far it was read.
    """

    standard: str
    clause: str
    kind: Kind
    what: str
    limits: tuple[tuple[Grade, float], ...]
    note: str = ""

    def limit(self, grade: Grade) -> float | None:
        """The limit of a grade, mm; None where the clause has none."""
        return dict(self.limits).get(grade)

    @property
    def source(self) -> str:
        """Standard and clause, for a line of text."""
        return f"{self.standard}, {self.clause}"


def _graded(*limits: float) -> tuple[tuple[Grade, float], ...]:
    return tuple(zip(GRADES, limits, strict=False))


FIELD_GAPS = Tolerance(
    INSTALLED,
    "3.4.1.1 c)",
    "gap",
    "field joints, flat and shaped, wood to wood",
    _graded(0.4, 0.8, 1.2),
    "which materials meet is inferred from the order of the clauses; 2024: over at most 30 % of the joint's length",
)
"""What the forecast is held against unless another is asked for: .016, .031 and .047 in."""

TOLERANCES = (
    FIELD_GAPS,
    Tolerance(
        INSTALLED,
        "3.4.1.1 d)",
        "gap",
        "field joints, flat and shaped, wood to other materials",
        _graded(0.8, 1.6, 2.4),
        "which materials meet is inferred from the order of the clauses",
    ),
    Tolerance(
        INSTALLED,
        "3.4.1.1 e)",
        "gap",
        "field joints, flat, between other materials",
        _graded(0.8, 1.6, 2.4),
        "which materials meet is inferred from the order of the clauses",
    ),
    Tolerance(
        STANDARDS_2009,
        "section 6, 4.4.1.8.1",
        "flushness",
        "joints mitered or butted in the factory, interior",
        _graded(0.03, 0.1, 0.6),
    ),
    Tolerance(
        STANDARDS_2009,
        "4.4.15.2 (page 309)",
        "gap",
        "joints mitered or butted in the factory, at laminate",
        _graded(0.4, 0.6, 1.3),
        "over at most 20 % of the joint's length",
    ),
    Tolerance(
        STANDARDS_2009,
        "6.1.21 (page 241)",
        "flushness",
        "field joints, shaped, wood to wood",
        _graded(0.025 * 25.4, 0.050 * 25.4),
        "no limit for economy",
    ),
)


def best_grade(opening: float, tolerance: Tolerance = FIELD_GAPS) -> Grade | None:
    """The best grade whose limit an opening (mm) holds; None when it holds none."""
    for grade, limit in tolerance.limits:
        if opening <= limit + 1e-9:
            return grade
    return None
