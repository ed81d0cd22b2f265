"""The solid kernel (cadquery): exact solids of pieces, for STEP and to prove the mesh. Loaded only when asked for."""

from preview.models.solid.compare import SolidFigures, figures
from preview.models.solid.faced import solid_of_faced
from preview.models.solid.kernel import available
from preview.models.solid.solids import Solids, make_solids
from preview.models.solid.step import read_step
from preview.models.solid.tessellated import FACETS, WELDED, read_solids

__all__ = [
    "FACETS",
    "WELDED",
    "SolidFigures",
    "Solids",
    "available",
    "figures",
    "make_solids",
    "read_solids",
    "read_step",
    "solid_of_faced",
]
