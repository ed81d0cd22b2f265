"""A model file that says which build it is, held against that build: whether it still is what was written."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from pathlib import Path

from preview.build import Built
from preview.checks import (
    Finding,
    inspect_exchange,
    inspect_step,
    inspect_step_file,
    level_of,
    stl_count,
)
from preview.errors import PreviewError
from preview.exports import levels_of
from preview.models import solid
from preview.models.solid import SolidFigures
from preview.review import inspect_file

KERNEL = (".step", ".stp")


def held_against(built: Built, path: Path) -> list[Finding]:
    """The findings on a model file of any format that names this build, as they are when it is written.

    An STL may hold one piece, a GLB a level of detail; a drawing, and a STEP file where there is no CAD kernel, has
    none. Raises PreviewError where a STEP file cannot be read.
    """
    suffix = path.suffix.lower()
    if suffix in KERNEL:
        return _step(built, path)
    if suffix == ".stl":
        return _stl(built, path)
    if suffix == ".glb" and (level := level_of(path)):
        built = next(islice(levels_of(built), level - 1, None), built)
    return inspect_file(built, path)


def _step(built: Built, path: Path) -> list[Finding]:
    if solid.available():
        return []
    return step_findings(built, path, solid.figures(solid.make_solids(built.pieces), built.meshes))


def step_findings(built: Built, path: Path, figures: Sequence[SolidFigures]) -> list[Finding]:
    """The findings on a STEP file read back, held against the figures of the build's own solids."""
    found = solid.read_step_solids(path, built.pieces)
    named = [(each.name, each.volume) for each in found]
    return [
        *inspect_step(named, built.pieces, [each.volume for each in figures]),
        *inspect_step_file(path, found, built.pieces, figures, built.digest),
    ]


def _stl(built: Built, path: Path) -> list[Finding]:
    """Of the whole molding, or of the piece that it holds."""
    try:
        count = stl_count(path)
    except PreviewError:  # cut short, which is a finding
        return inspect_file(built, path)
    found = inspect_file(built, path)
    if all(each.holds for each in found):
        return found
    for mesh, member in zip(built.meshes, built.members, strict=True):
        if len(mesh.triangles) == count:
            alone = inspect_exchange(path, [mesh], [member.finish.color], built.digest)
            if all(each.holds for each in alone):
                return alone
    return found
