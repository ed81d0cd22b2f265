"""Whole jobs, whoever asks for them: a scene built, written, read back and judged; the client's package; approvals.

approvals, picturing -> package -> building; holding -> building
"""

from preview.exports import USUAL
from preview.jobs.approvals import (
    Picks,
    approval_lines,
    approval_values,
    built_of,
    last_approval,
    now_of,
    picks_of,
    picks_text,
    rebuilt,
)
from preview.jobs.building import PUBLISHING, Outcome, Wanted, build_scene, check_scene, new_scene
from preview.jobs.holding import held_against
from preview.jobs.package import Client, brand_of, client_of, made_stills, paper_of, sheet_job, stills_begun
from preview.jobs.picturing import PACKAGE, Progress, Size, making, wanted_stills

__all__ = [
    "PACKAGE",
    "PUBLISHING",
    "USUAL",
    "Client",
    "Outcome",
    "Picks",
    "Progress",
    "Size",
    "Wanted",
    "approval_lines",
    "approval_values",
    "brand_of",
    "build_scene",
    "built_of",
    "check_scene",
    "client_of",
    "held_against",
    "last_approval",
    "made_stills",
    "making",
    "new_scene",
    "now_of",
    "paper_of",
    "picks_of",
    "picks_text",
    "rebuilt",
    "sheet_job",
    "stills_begun",
    "wanted_stills",
]
