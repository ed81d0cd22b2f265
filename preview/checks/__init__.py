"""Checks: models read back from disk and measured, by other roads than the ones that built them."""

from preview.checks.continuity import Meeting, Rim
from preview.checks.digests import digest_in, level_of
from preview.checks.exchange import Exchange
from preview.checks.findings import CHECKS, JOINT_CHECKS, Check, Finding
from preview.checks.inspect import Inspection, inspect_bodies, inspect_stl
from preview.checks.joints import ModelJoint, ModelMiss
from preview.checks.model import ModelInspection, inspect_model
from preview.checks.model_files import MODEL_FORMATS, OTHER_MODELS, Model, must_end_as_dxf, read_model
from preview.checks.reader import inspect_with_trimesh
from preview.checks.readers import Body, must_be_file, read_glb, read_stl, stl_count
from preview.checks.rims import Measured
from preview.checks.round_trip import READERS, inspect_exchange, read_exchange
from preview.checks.solids import inspect_solids, inspect_step, inspect_step_file
from preview.checks.standing import JointPair
from preview.checks.survey import inspect_surveys
from preview.checks.workers import cores

__all__ = [
    "CHECKS",
    "JOINT_CHECKS",
    "MODEL_FORMATS",
    "OTHER_MODELS",
    "READERS",
    "Body",
    "Check",
    "Exchange",
    "Finding",
    "Inspection",
    "JointPair",
    "Measured",
    "Meeting",
    "Model",
    "ModelInspection",
    "ModelJoint",
    "ModelMiss",
    "Rim",
    "cores",
    "digest_in",
    "inspect_bodies",
    "inspect_exchange",
    "inspect_model",
    "inspect_solids",
    "inspect_step",
    "inspect_step_file",
    "inspect_stl",
    "inspect_surveys",
    "inspect_with_trimesh",
    "level_of",
    "must_be_file",
    "must_end_as_dxf",
    "read_exchange",
    "read_glb",
    "read_model",
    "read_stl",
    "stl_count",
]
