"""What a person reads of a scene's options, and of what clients answered."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from preview.checks import Finding
from preview.exports import Report

MOST_CHANGES = 6
MOST_FAILURES = 3


def options(console: Console, told: Report) -> None:
    """Every combination of the scene's alternatives: what it changes, and whether it holds."""
    if not told.options:
        return
    console.print()
    console.print(f"the scene as drawn is code {told.code}; its options, each built and checked like it:")
    for option in told.options:
        failed = len(option.failures)
        verdict = (f"{failed} FAILED", "bold red") if failed else ("holds", "green")
        console.print(
            Text.assemble(f"  {option.name}: code {option.code}, {len(option.inspection.findings)} checks, ", verdict)
        )
        for sentence in option.changes[:MOST_CHANGES]:
            console.print(Text(f"    {sentence}"))
        if len(option.changes) > MOST_CHANGES:
            console.print(f"    and {len(option.changes) - MOST_CHANGES} more")
        for remark in option.built.remarks:
            if remark not in told.built.remarks:
                console.print(Text(f"    note: {remark}"))
        for line in dict.fromkeys(map(_failure, option.failures[:MOST_FAILURES])):
            console.print(Text(f"    FAILED  {line}"))
        if failed > MOST_FAILURES:
            console.print(f"    and {failed - MOST_FAILURES} more; --json or report.json has them all")
    console.print()


def _failure(finding: Finding) -> str:
    """What failed, with its figure where there is one."""
    figures = f": {finding.figure:.4g} {finding.check.unit}, limit {finding.limit:.4g}"
    question = finding.detail or finding.check.question
    return f"{finding.subject}: {question}{figures if math.isfinite(finding.figure) else ''}"


def approvals(console: Console, lines: Sequence[str]) -> None:
    """What clients answered, and what has changed since."""
    for line in lines:
        console.print(Text(line))
    if lines:
        console.print()
