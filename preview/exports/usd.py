"""USD (Universal Scene Description, Alliance for OpenUSD): meters, y up, each piece a mesh by its name.

    model                              assembly; the title, the digest; a variant set for each choice of finish
      materials                        one for each finish
      bench_front                      group: a run, standing at its start
        base                           group: a member of it; what it wears as drawn is bound here
          bench_front_base_1_straight  component: a piece, with its own mesh; variants bind what it wears here
      surroundings                     group: what is only there to be looked at

A prim's name holds a-z, 0-9 and _ only; the name that people gave is its displayName. A mesh has one normal and one
texture coordinate for each point, so a sharp edge has its points twice.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from preview import __version__
from preview.build import Built
from preview.errors import PreviewError
from preview.exports.gltf_document import length_of
from preview.exports.names import file_names
from preview.exports.usd_layer import Layer, opened_layer
from preview.exports.writing import told
from preview.exports.y_up import run_origins, stored_points, translation, turned_up
from preview.joinery import piece_lengths
from preview.models.mesh import PieceMesh, SurroundingMesh, mesh_surroundings
from preview.scene import ON_WOOD, Finish

UNITS = (
    "Lengths are meters and y is up. Texture coordinates are millimeters: u along the grain, v round the "
    "profile; on the ends of a piece, projection and height. A piece's length_mm is from its first to its last wood."
)
MOST_BYTES = 2**32 - 1
"""What the zip format holds without its later extension, which a USDZ may not use."""
ALIGNED = 64
"""Where the bytes of a file in a USDZ begin: at a multiple of this (USDZ specification, "Layout")."""
LOCAL_HEADER, EXTRA_HEADER, FILLER = 30, 4, 0x1986
"""Bytes of a zip's header before a file's name; of an extra field's before its data; and the field's own mark."""
ROOT, INSIDE = "model", "model.usdc"


def usdz_bytes(built: Built, finishes: Sequence[Finish] | None = None) -> bytes:
    """A USDZ package that holds `usd_bytes`: one file, stored as it is. The same values give the same bytes.

    Raises PreviewError when usd-core is not installed, or the model does not fit the 4 GiB that the format allows.
    """
    layer = usd_bytes(built, finishes)
    about = zipfile.ZipInfo(INSIDE, (1980, 1, 1, 0, 0, 0))
    about.create_system = 0  # whatever system this is
    gap = -(LOCAL_HEADER + len(INSIDE) + EXTRA_HEADER) % ALIGNED
    about.extra = FILLER.to_bytes(2, "little") + gap.to_bytes(2, "little") + bytes(gap)
    package = io.BytesIO()
    with zipfile.ZipFile(package, "w", zipfile.ZIP_STORED, allowZip64=False) as archive:
        archive.writestr(about, layer)
    return package.getvalue()


def usd_bytes(built: Built, finishes: Sequence[Finish] | None = None) -> bytes:
    """The binary layer (.usdc) of a built scene, with its surroundings. The same values give the same bytes.

    finishes: what each member may be switched to beside those that the molding wears; None for the paints and clear
    finishes that the scene declares. Raises PreviewError as `usdz_bytes` does.
    """
    around = mesh_surroundings(built.scene.surroundings, built.scene.runs, built.scene.chord)
    if finishes is None:
        finishes = [finish for finish in built.scene.finishes if finish.kind in ON_WOOD]
    with ExitStack() as kept:
        layer = kept.enter_context(opened_layer(f"molding-preview {__version__}"))
        _Model(layer, built, around, finishes).write()
        with told(Path(tempfile.gettempdir())):
            folder = Path(kept.enter_context(tempfile.TemporaryDirectory(prefix="molding-usd-")))
            path = folder / INSIDE
            layer.save(path)
            _refuse_too_large(path.stat().st_size)
            return path.read_bytes()


class _Model:
    """What the layer is made of, with the names and paths that its parts know each other by."""

    def __init__(
        self, layer: Layer, built: Built, around: Sequence[SurroundingMesh], finishes: Sequence[Finish]
    ) -> None:
        self.layer, self.built, self.around = layer, built, around
        self.worn = {member.name: member.finish for member in built.members}
        self.offered = tuple(dict.fromkeys([*self.worn.values(), *finishes]))
        self.runs = run_origins(built.pieces)
        _, _, *runs = _identifiers(["materials", "surroundings", *self.runs], "run")
        self.run_names = dict(zip(self.runs, runs, strict=True))
        self.member_names = dict(zip(self.worn, _identifiers(self.worn, "member"), strict=True))
        shown = dict.fromkeys([*self.offered, *(mesh.finish for mesh in around)])
        named = _identifiers([finish.name for finish in shown], "finish")
        self.finish_names = dict(zip(shown, named, strict=True))

    def write(self) -> None:
        layer, built = self.layer, self.built
        sets = self._sets()
        about = {"title": built.scene.title, "units": UNITS, "digest": built.digest, "finish_sets": sets}
        root = layer.root(ROOT, built.scene.title, about)
        materials = layer.prim(root, "materials", "Scope")
        for finish, name in self.finish_names.items():
            layer.material(materials, name, finish)
        groups = self._groups(root)
        for (_, member), group in groups.items():
            layer.bind(group, self._material(self.worn[member]))
        pieces = self._pieces(groups)
        self._surroundings(root)
        for name, member in sets.items():
            self._offer(
                root, name, [path for (_, of), paths in pieces.items() if of == member for path in paths], member
            )
        # What variants speak of would come first otherwise.
        for prim in (root, *root.nameChildren):
            layer.keep_order(prim)

    def _offer(self, root: Any, name: str, paths: Sequence[Sequence[str]], member: str) -> None:
        """A variant set that says what a member wears: its pieces, by their paths below the root.

        What a variant says is weaker than what the prim itself says, and stronger than what the prims above it say. So
        the pieces are dressed by variants alone, and their groups as drawn, for readers that know no variants.
        """
        names = [self.finish_names[finish] for finish in self.offered]
        variants = self.layer.variants(root, name, names, self.finish_names[self.worn[member]])
        for finish, variant in zip(self.offered, variants, strict=True):
            for path in paths:
                self.layer.bind(self.layer.over(variant, path), self._material(finish))

    def _sets(self) -> dict[str, str]:
        """The variant sets by name, each with the member that it is for; none where there is nothing to choose."""
        if len(self.offered) < 2:
            return {}
        if len(self.worn) == 1:
            return {"finish": next(iter(self.worn))}
        return {f"finish_{name}": member for member, name in self.member_names.items()}

    def _material(self, finish: Finish) -> str:
        return f"/{ROOT}/materials/{self.finish_names[finish]}"

    def _groups(self, root: Any) -> dict[tuple[str, str], Any]:
        """A group for each run, and in it one for each of its members, by both names."""
        runs: dict[str, Any] = {}
        found: dict[tuple[str, str], Any] = {}
        for piece, look in zip(self.built.pieces, self.built.members, strict=True):
            if piece.run not in runs:
                name = self.run_names[piece.run]
                run = runs[piece.run] = self.layer.prim(root, name, "Xform", kind="group", title=piece.run)
                self.layer.place(run, translation(self.runs[piece.run]))
            if (piece.run, look.name) not in found:
                found[piece.run, look.name] = self.layer.prim(
                    runs[piece.run], self.member_names[look.name], "Xform", kind="group", title=look.name
                )
        return found

    def _pieces(self, groups: dict[tuple[str, str], Any]) -> dict[tuple[str, str], list[list[str]]]:
        """The pieces of each group, by their paths below the root."""
        built = self.built
        found: dict[tuple[str, str], list[list[str]]] = {}
        names = _identifiers([piece.name for piece in built.pieces], "piece")
        for name, mesh, look in zip(names, built.meshes, built.members, strict=True):
            piece = mesh.piece
            about = {
                "piece": piece.name,
                "run": piece.run,
                "member": piece.member,
                "kind": piece.kind,
                "length_mm": round(_overall(mesh), 3),
            }
            above = groups[piece.run, look.name]
            path = [self.run_names[piece.run], self.member_names[look.name], name]
            found.setdefault((piece.run, look.name), []).append(path)
            prim = self.layer.prim(above, name, "Mesh", kind="component", title=piece.name, about=about)
            points = stored_points(mesh.points, self.runs[piece.run])[mesh.shape.corner_point]
            self.layer.mesh(prim, points, turned_up(mesh.normals), mesh.shape.render_triangles, mesh.uvs)
        return found

    def _surroundings(self, root: Any) -> None:
        if not self.around:
            return
        above = self.layer.prim(root, "surroundings", "Xform", kind="group")
        names = _identifiers([f"surroundings {mesh.name}" for mesh in self.around], "surroundings")
        for name, mesh in zip(names, self.around, strict=True):
            about = {"surrounding": mesh.name, "kind": mesh.kind}
            prim = self.layer.prim(above, name, "Mesh", kind="component", title=mesh.name, about=about)
            self.layer.place(prim, translation(mesh.origin))
            points, normals = stored_points(mesh.points, mesh.origin), turned_up(mesh.normals)
            self.layer.mesh(prim, points, normals, mesh.triangles, both_sides=mesh.both_sides)
            self.layer.bind(prim, self._material(mesh.finish))


def _overall(mesh: PieceMesh) -> float:
    """A piece's length over all, mm. A straight's mesh has it to the last digit, and is quicker to ask."""
    piece = mesh.piece
    exact = piece.curvature or piece.element.bend
    return piece_lengths(piece)["overall"] if exact else length_of(mesh)


def _identifiers(names: Iterable[str], otherwise: str) -> list[str]:
    """A prim's name for each name, in order: a-z, 0-9 and _, no two alike; `otherwise` where nothing is left.

    >>> _identifiers(["bench front / base / 3 curve", "3/4 bead", "Βάση", "bench-front/base 3 curve"], "piece")
    ['bench_front_base_3_curve', '_3_4_bead', 'piece', 'bench_front_base_3_curve_2']
    """
    empty = file_names([""], "")
    told_apart = [otherwise if file_names([name], "") == empty else name for name in names]
    plain = [slug.replace("-", "_") for slug in file_names(told_apart, "")]
    return [f"_{slug}" if slug[0].isdigit() else slug for slug in plain]


def _refuse_too_large(size: int) -> None:
    if size + 1024 > MOST_BYTES:  # the headers round it
        raise PreviewError(
            "",
            None,
            f"the model takes {size / 2**30:.1f} GiB, and a USDZ holds less than 4",
            "use a coarser chord, or split the scene in two",
        )
