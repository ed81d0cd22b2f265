"""The solid kernel (cadquery): exact solids of pieces, for STEP and to prove the mesh. Loaded only when asked for."""

from preview.models.solid.apart import read_solids
from preview.models.solid.compare import SolidFigures, figures
from preview.models.solid.faced import solid_of_faced
from preview.models.solid.kernel import available
from preview.models.solid.solids import Solids, make_solids
from preview.models.solid.step import StepSolid, read_step, read_step_solids
from preview.models.solid.tessellated import FACETS, WELDED

__all__ = [
    "FACETS",
    "WELDED",
    "SolidFigures",
    "Solids",
    "StepSolid",
    "available",
    "figures",
    "make_solids",
    "read_solids",
    "read_step",
    "read_step_solids",
    "solid_of_faced",
]
