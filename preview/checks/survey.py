"""The survey's own figures as findings: a measured run that does not close is told, and fails where it must."""

from __future__ import annotations

from collections.abc import Iterable

from preview.checks import findings as table
from preview.checks.findings import Finding
from preview.runs import Survey

BY_CODE = {
    check.code: check for check in (table.SURVEY_CHANGE, table.SURVEY_OVERALL, table.SURVEY_GAP, table.SURVEY_TURN)
}


def inspect_surveys(surveys: Iterable[tuple[str, Survey]]) -> list[Finding]:
    """One finding for each figure of each run's survey, given by the run's name."""
    return [
        Finding(BY_CODE[figure.code], run, figure.value, figure.limit)
        for run, survey in surveys
        for figure in survey.figures
    ]
