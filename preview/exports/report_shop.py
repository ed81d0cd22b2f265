"""What the report says for the shop and the site: saw settings, joint forecasts, surveys. Plain values for JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Literal

from preview.joinery import Piece
from preview.runs import Survey, survey_sentences
from preview.shop import JointForecast, end_settings
from preview.units import Unit


def saw_settings(piece: Piece, end: Literal["begin", "end"]) -> dict[str, Any] | None:
    """The saw's settings for one end of a piece; None where no one straight cut makes it.

    Degrees: miter from square and bevel from upright, with the way to swing and to tilt.
    """
    found = end_settings(piece, end)
    if found is None:
        return None
    return {
        "at": found.at,
        "corner_deg": None if found.corner is None else math.degrees(found.corner),
        "setups": [
            {
                "lies": setup.posture,
                "miter_deg": math.degrees(abs(setup.setting.miter)),
                "swing": setup.setting.swing,
                "bevel_deg": math.degrees(abs(setup.setting.bevel)),
                "tilt": setup.setting.tilt,
                "keep": setup.keep,
                "words": setup.words,
            }
            for setup in found.setups
        ],
        "cautions": list(found.cautions),
    }


def forecast_values(forecasts: Sequence[JointForecast]) -> list[dict[str, Any]]:
    """One entry for each joint that the site's errors move; openings in mm."""
    return [
        {
            "joint": each.joint,
            "openings": [
                {"source": o.source, "heel_mm": o.heel, "toe_mm": o.toe, "opens": o.opens} for o in each.openings
            ],
            "worst_mm": each.worst,
            "likely_mm": each.likely,
            "grade": each.grade,
            "holds": each.holds,
            "limit_from": each.source,
            "sentence": each.line,
        }
        for each in forecasts
    ]


def survey_values(run: str, survey: Survey, unit: Unit) -> dict[str, Any]:
    """What one measured run misses by, and every change that was made to its measurements."""
    missed, adjusted = survey.closure, survey.adjustment
    return {
        "run": run,
        "closing": survey.closing,
        "closed": survey.closed,
        "holds": survey.holds,
        "credible": adjusted.credible if adjusted else None,
        "missed": {
            "dx_mm": missed.dx,
            "dy_mm": missed.dy,
            "distance_mm": missed.distance,
            "direction_deg": math.degrees(missed.direction),
            "turn_deg": None if missed.turn is None else math.degrees(missed.turn),
            "length_mm": missed.length,
            "one_in": missed.precision,
        },
        "checks": adjusted.checks if adjusted else 0,
        "overall": adjusted.overall if adjusted else None,
        "overall_limit": adjusted.limit if adjusted else None,
        "measurements": [
            {
                "place": row.measured.place,
                "kind": row.measured.kind,
                "unit": "°" if row.measured.is_angle else "mm",
                "measured": row.measured.as_read(row.measured.value),
                "within": row.measured.within_as_read,
                "adjusted": row.measured.as_read(row.adjusted),
                "change": row.change,
                "times": row.times,
                "share": row.share,
                "normal": row.normal,
                "times_alone": row.times_alone,
            }
            for row in (adjusted.rows if adjusted else ())
        ],
        "suspects": [adjusted.rows[i].measured.place for i in adjusted.suspects] if adjusted else [],
        "sentences": survey_sentences(survey, unit),
    }
