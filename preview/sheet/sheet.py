"""The sheet."""

from __future__ import annotations

from preview.sheet.job import SheetJob


def sheet_pdf(job: SheetJob) -> bytes:
    """The sheet as PDF, on the job's paper. The same job gives the same bytes.

    Raises ValueError when nothing is shown.
    """
    from preview.sheet.compose import composed

    return composed(job)
