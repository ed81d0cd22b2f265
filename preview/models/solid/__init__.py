"""The solid kernel (cadquery): exact solids of pieces, for STEP and to prove the mesh. Loaded only when asked for."""

from preview.models.solid.compare import SolidFigures, figures
from preview.models.solid.kernel import available
from preview.models.solid.solids import Solids, make_solids
from preview.models.solid.step import read_step

__all__ = ["SolidFigures", "Solids", "available", "figures", "make_solids", "read_step"]
