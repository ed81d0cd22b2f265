"""A scene to program with: its pieces, joints, meshes and solids, its report, and its files.

    import preview

    seat = preview.load("scenes/window-seat.toml")
    for piece in seat.pieces:
        print(piece.name, piece.overall)
    assert seat.report()["holds"]
    seat.export("out", "glb", "usdz")

A shape of a profile, a cut of a run's end, or a file format is one function:

    @preview.enter_end("clipped")
    def clipped(profile):
        return 0.5  # mm back for each mm out from the wall

after which a scene may say `end = "clipped"`. A package that names such functions among its entry points, in the
groups `molding.shapes`, `molding.ends` and `molding.formats`, gives them to the command as well.

Lengths are millimeters, angles radians, z is up. What goes wrong in a scene is a `preview.PreviewError`, whose text is
what the command says. A shape is given as a `preview.Shape` and drawn in `preview.Line` and `preview.Arc`; an end gets
a `preview.Profile`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.approval import short_code
from preview.build import Built, build
from preview.cutlist import CutPiece, ShopJob, cut_list, shop_job
from preview.errors import PreviewError, nearest
from preview.exports import FORMATS, USUAL, Writer, formats_named, report_json
from preview.jobs import Wanted, build_scene, check_scene
from preview.joinery import JointKind
from preview.models import solid
from preview.profiles import SHAPES, Arc, Drawing, Line, Profile, Shape
from preview.runs import BEVELS, Bevel
from preview.scene import Scene, chosen, load_scene

__all__ = [
    "Arc",
    "Joint",
    "Line",
    "Mesh",
    "Model",
    "PreviewError",
    "Profile",
    "Shape",
    "enter_end",
    "enter_format",
    "enter_shape",
    "load",
]


@dataclass(frozen=True)
class Joint:
    """Where pieces meet, or one ends.

    pieces: the names of those before and after it along the run; None where nothing stands. turn: of the walls,
    radians, + at an inside corner, - at an outside one.
    """

    name: str
    kind: JointKind
    turn: float
    pieces: tuple[str | None, str | None]

    @property
    def corner(self) -> float | None:
        """The angle between the walls, degrees; None where the run goes straight on."""
        return 180.0 - math.degrees(abs(self.turn)) if self.turn else None


@dataclass(frozen=True)
class Mesh:
    """A closed mesh: points (p, 3), mm, and triangles (t, 3) that index them, seen from outside counter-clockwise."""

    points: NDArray[np.float64]
    triangles: NDArray[np.int32]


@dataclass(frozen=True, repr=False)
class Model:
    """A scene, built. Everything else is made when it is asked for."""

    scene: Scene
    built: Built

    def __repr__(self) -> str:
        return f"{self.scene.title}: {len(self.built.pieces)} pieces, model {self.code}"

    @property
    def digest(self) -> str:
        """SHA-256 of the exact geometry, names and finishes, the same on every machine."""
        return self.built.digest

    @property
    def code(self) -> str:
        """The short code that a client reads out."""
        return short_code(self.built.digest)

    @cached_property
    def pieces(self) -> tuple[CutPiece, ...]:
        """Every piece as it is cut, in the model's order."""
        return cut_list(self.built).pieces

    @cached_property
    def joints(self) -> tuple[Joint, ...]:
        """Every joint and end, in the order of travel, run by run."""

        def name(number: int | None) -> str | None:
            return None if number is None else self.built.pieces[number].name

        return tuple(
            Joint(pair.joint.name, pair.joint.kind, pair.joint.turn, (name(pair.before), name(pair.after)))
            for pair in self.built.joints
        )

    def option(self, *names: str) -> Model:
        """The same scene with these alternatives taken, such as "mitered" or "corners=mitered".

        Raises PreviewError for a name that no alternative has.
        """
        return _model(chosen(self.scene, names))

    def mesh(self, piece: str | None = None) -> Mesh:
        """The mesh of one piece by its name, or of all of them, each closed by itself.

        Raises PreviewError where no piece has that name.
        """
        parts = [self.built.meshes[number] for number in self._numbers(piece)]
        firsts = np.cumsum([0, *(len(part.points) for part in parts[:-1])])
        triangles = [part.triangles + first for part, first in zip(parts, firsts, strict=True)]
        return Mesh(np.concatenate([part.points for part in parts]), np.concatenate(triangles).astype(np.int32))

    def solid(self, piece: str | None = None) -> Any:
        """The exact solid of one piece by its name (a cadquery.Solid), or all of them (a cadquery.Compound).

        Raises PreviewError where no piece has that name, and where the CAD kernel cannot be loaded.
        """
        missing = solid.available()
        if missing:
            raise PreviewError("", None, f"the CAD kernel cannot be loaded: {missing}", "install what it names")
        made = solid.make_solids([self.built.pieces[number] for number in self._numbers(piece)])
        return made.compound() if piece is None else made.shapes[0]

    def report(self, *, solids: bool = False) -> dict[str, Any]:
        """What `report.json` says, measured on files that are written, read back and thrown away.

        solids: the proof by the CAD kernel as well.
        """
        outcome = check_scene(self.scene, solids=solids, progress=lambda *_: None)
        found: dict[str, Any] = json.loads(report_json(outcome.report))
        return found

    def shop(self) -> ShopJob:
        """Cut list, sticks, blanks, quantities and the order of installing. Raises PreviewError as `shop_job` does."""
        return shop_job(self.built)

    def export(self, folder: str | Path, *formats: str) -> tuple[Path, ...]:
        """Write formats ("glb", "stl", "step", "usdz" and so on) and the report, all of them or none; the paths.

        Raises PreviewError for a format that there is not, and for a folder that cannot be written to.
        """
        chosen = formats_named(formats or USUAL, "export")
        wanted = Wanted(chosen, pieces=False, solids="step" in chosen)
        return tuple(build_scene(self.scene, Path(folder), wanted, lambda *_: None).written)

    def _numbers(self, piece: str | None) -> Sequence[int]:
        names = [each.name for each in self.built.pieces]
        if piece is None:
            return range(len(names))
        if piece not in names:
            near = nearest(piece, names)
            fix = f"did you mean {near}?" if near else "the pieces' names are in .pieces"
            raise PreviewError("piece", f'"{piece}"', "no piece has this name", fix)
        return [names.index(piece)]


def enter_shape(name: str) -> Callable[[Drawing], Drawing]:
    """Enter a function that draws a shape of a face as trade shapes are drawn.

    It gets the shape as written (a `Shape`: its rise, how far out, its radius), the point where it starts, and the
    unit for messages, and returns edges (`Line`, `Arc`) up the face. Raises PreviewError where the name is taken. One
    that raises, or returns anything but edges, is a PreviewError that names it, where a scene uses it.
    """
    return SHAPES.entered(name)


def enter_end(name: str) -> Callable[[Bevel], Bevel]:
    """Enter a function that cuts an end of a run: from the profile, how many mm it runs back for each mm out.

    Raises PreviewError where the name is taken. One that raises, or returns no number, is a PreviewError that names it,
    where a scene uses it.
    """
    return BEVELS.entered(name)


def enter_format(name: str) -> Callable[[Writer], Writer]:
    """Enter a function that writes a format: from a `Built` and the stem of its files, pairs of a name and bytes.

        @preview.enter_format("totals")
        def totals(built, stem):
            yield f"{stem}-totals.txt", f"{len(built.pieces)} pieces".encode()

    Any iterable of such pairs will do, of one at least. A name is a file's, or a path with /, below the folder of
    models: not absolute, without .., not one that another format writes, and not in `options` or `pieces`, which are
    the program's own. Raises PreviewError where the format's name is taken. One that raises, or returns anything else,
    is a PreviewError that names it when it is asked for, and then nothing is written.
    """
    return FORMATS.entered(name)


def load(scene: str | Path) -> Model:
    """Read a scene file and build it.

    Raises PreviewError, whose text is what the command would say, when something in the scene is written wrong.
    """
    return _model(load_scene(Path(scene)))


def _model(scene: Scene) -> Model:
    return Model(scene, build(scene))
