"""The mesh kernel (numpy): closed meshes of pieces, watertight by construction."""

from preview.models.mesh.face import Face, make_face
from preview.models.mesh.faced import FacedMesh, FacedSection, FacedShape, faced_section, mesh_faced
from preview.models.mesh.shape import PieceMesh, Shape, mesh_volume
from preview.models.mesh.steps import spans_needed
from preview.models.mesh.surroundings import SurroundingMesh, mesh_surroundings
from preview.models.mesh.sweep import DEFAULT_CHORD, mesh_member_run, mesh_runs

__all__ = [
    "DEFAULT_CHORD",
    "Face",
    "FacedMesh",
    "FacedSection",
    "FacedShape",
    "PieceMesh",
    "Shape",
    "SurroundingMesh",
    "faced_section",
    "make_face",
    "mesh_faced",
    "mesh_member_run",
    "mesh_runs",
    "mesh_surroundings",
    "mesh_volume",
    "spans_needed",
]
