"""The solids of a whole scene, in the pieces' order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from preview.joinery import Piece
from preview.models.solid.kernel import guarded
from preview.models.solid.step import write_step
from preview.models.solid.trim import solid_of


@dataclass(frozen=True)
class Solids:
    """Pieces and their exact solids (cadquery.Solid, in the scene's coordinates, mm, z up), in one order.

    Only this room knows what the shapes are; ask `figures` what they measure.
    """

    pieces: tuple[Piece, ...]
    shapes: tuple[Any, ...]

    def compound(self) -> Any:
        """All of them as one cadquery.Compound."""
        import cadquery

        return cadquery.Compound.makeCompound(list(self.shapes))

    def write_step(
        self, path: Path, title: str, colors: Sequence[tuple[float, float, float]], digest: str = ""
    ) -> None:
        """Write all solids as one STEP file, as `write_step` does."""
        climbs = any(piece.element.slope or piece.element.bend or piece.shear for piece in self.pieces)
        places = [(piece.run, f"{piece.run} / {piece.member}", piece.name) for piece in self.pieces]
        write_step(path, title, places, self.shapes, colors, tracks=climbs, digest=digest)


def make_solids(pieces: Sequence[Piece], progress: Callable[[int], None] | None = None) -> Solids:
    """Make the exact solid of every piece; `progress` is told how many are done.

    Raises PreviewError, naming the piece, when the CAD kernel fails.
    """
    import cadquery

    shapes = []
    for done, piece in enumerate(pieces, start=1):
        with guarded("making its solid", piece.name):
            shapes.append(cadquery.Solid(solid_of(piece)))
        if progress is not None:
            progress(done)
    return Solids(tuple(pieces), tuple(shapes))
