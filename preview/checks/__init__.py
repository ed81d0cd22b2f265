"""Checks: models read back from disk and measured, by other roads than the ones that built them."""

from preview.checks.continuity import Meeting
from preview.checks.findings import CHECKS, Check, Finding
from preview.checks.inspect import Inspection, JointPair, inspect_bodies, inspect_stl
from preview.checks.reader import inspect_with_trimesh
from preview.checks.readers import Body, read_glb, read_stl
from preview.checks.solids import inspect_solids, inspect_step

__all__ = [
    "CHECKS",
    "Body",
    "Check",
    "Finding",
    "Inspection",
    "JointPair",
    "Meeting",
    "inspect_bodies",
    "inspect_solids",
    "inspect_step",
    "inspect_stl",
    "inspect_with_trimesh",
    "read_glb",
    "read_stl",
]
