"""OBJ, the text format of polygons, with its MTL of materials: meters, y up, an object for each piece.

    plan x -> x       mtllib window-seat.mtl
    z      -> y       # piece 3 "bench front / base / 3 curve"     its number in drawings and tables, its whole name
    plan y -> -z      o bench_front_base_3_curve                   its name as one word
                      usemtl white
                      v, vt, vn                                    positions, texture coordinates, normals
                      f 1/1/1 2/2/2 3/3/3                          each corner's three numbers
                      o surroundings, g surroundings floor         what is only there to be looked at

A piece's positions stand there once, so it is closed by its indices; normals and texture coordinates have their
own. Positions are written to 0.000001 mm. An object's name is letters and numbers (of any alphabet), hyphens and
underscores, as many readers take no more than one word.

Colors (Kd) are sRGB, as most readers take them; Pr and Pm are roughness and metallic, the usual extension of
MTL for physically based materials.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from preview import __version__
from preview.build import Built
from preview.drafting import piece_tags
from preview.exports.plain_text import blocks, fixed, quoted, rows, tokens, whole
from preview.exports.y_up import turned_up
from preview.models.mesh import PieceMesh, SurroundingMesh, mesh_surroundings
from preview.scene import Finish

BLOCK = 20_000
"""How many render vertices are worked out at a time: few enough to stay in the processor's cache."""
UNITS = (
    "Lengths are meters and y is up. Texture coordinates are millimeters: u along the grain, v round the "
    "profile; on the ends of a piece, projection and height."
)
CORNERS = [b"f ", b"/", b"/", b" ", b"/", b"/", b" ", b"/", b"/"]
PLAIN_CORNERS = [b"f ", b"//", b" ", b"//", b" ", b"//"]

Reals = NDArray[np.floating]


def obj_files(built: Built, stem: str) -> tuple[tuple[str, bytes], ...]:
    """The files (name, bytes) of a build with its surroundings: `stem`.obj, and the MTL that it names.

    The MTL is called `stem`.mtl too, in letters that the format allows. The same build gives the same bytes.
    """
    scene = built.scene
    shown = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
    looks = dict.fromkeys([member.finish for member in built.members] + [mesh.finish for mesh in shown])
    words = dict(zip(looks, tokens((look.name for look in looks), "finish"), strict=True))
    library = tokens([stem], "model")[0] + ".mtl"
    about = f"# molding-preview {__version__}\n# {UNITS}\n# model {built.digest}\n"
    parts = [f"{about}mtllib {library}\n# {quoted(scene.title)}\n".encode()]
    parts += _molding(built, words)
    parts += _surroundings(built, shown, words)
    materials = "".join(_material(look, word) for look, word in words.items())
    about = f"# molding-preview {__version__}\n# model {built.digest}\n# Colors (Kd) are sRGB.\n"
    return (f"{stem}.obj", b"".join(parts)), (library, (about + materials).encode())


def _material(look: Finish, word: str) -> str:
    color = " ".join(f"{part:.6g}" for part in look.color)
    return f"\n# {quoted(look.name)}\nnewmtl {word}\nKd {color}\nPr {look.roughness:.6g}\nPm {look.metallic:.6g}\n"


def _molding(built: Built, words: dict[Finish, str]) -> Iterator[bytes]:
    names = tokens((piece.name for piece in built.pieces), "piece")
    heads = (
        f"\n# piece {tag} {quoted(piece.name)}\no {name}\nusemtl {words[member.finish]}\n".encode()
        for tag, piece, name, member in zip(piece_tags(built), built.pieces, names, built.members, strict=True)
    )
    points = corners = 0
    for block in blocks(built.meshes, lambda mesh: len(mesh.normals), BLOCK):
        for texts in zip(*_block(block, points, corners), strict=True):
            yield next(heads)
            yield from texts
        points += sum(len(mesh.points) for mesh in block)
        corners += sum(len(mesh.normals) for mesh in block)


def _block(meshes: Sequence[PieceMesh], points: int, corners: int) -> tuple[Iterator[bytes], ...]:
    """The v, vt, vn and f lines of several pieces, piece by piece, after so many points and render vertices."""
    point_counts = [len(mesh.points) for mesh in meshes]
    corner_counts = [len(mesh.normals) for mesh in meshes]
    # Each number that the block's faces may name becomes text once.
    starts = ((points, sum(point_counts)), (corners, sum(corner_counts)))
    numbers = whole(np.concatenate([np.arange(first + 1, first + 1 + count) for first, count in starts]))
    faces = []
    point, corner = 0, sum(point_counts)
    for mesh in meshes:
        places = mesh.shape.triangles + point, mesh.shape.render_triangles + corner
        faces.append(np.stack([places[0], places[1], places[1]], axis=2).reshape(-1, 9))
        point += len(mesh.points)
        corner += len(mesh.normals)
    return (
        _positions(np.concatenate([mesh.points for mesh in meshes]), point_counts),
        rows([b"vt ", b" "], fixed(np.concatenate([mesh.uvs for mesh in meshes]), 3), b"\n", corner_counts),
        _normals(np.concatenate([mesh.normals for mesh in meshes]), corner_counts),
        rows(CORNERS, numbers[np.concatenate(faces)], b"\n", [len(part) for part in faces]),
    )


def _surroundings(built: Built, shown: Sequence[SurroundingMesh], words: dict[Finish, str]) -> Iterator[bytes]:
    """Bodies and sheets without texture coordinates, each a group of one object."""
    if not shown:
        return
    names = tokens([*(piece.name for piece in built.pieces), "surroundings"], "piece")
    yield f"\no {names[-1]}\n".encode()
    first = sum(len(mesh.points) for mesh in built.meshes) + 1
    first_normal = sum(len(mesh.normals) for mesh in built.meshes) + 1
    for mesh, name in zip(shown, tokens((mesh.name for mesh in shown), "thing"), strict=True):
        yield f"# {quoted(mesh.name)}\ng surroundings {name}\nusemtl {words[mesh.finish]}\n".encode()
        yield from _positions(mesh.points, [len(mesh.points)])
        yield from _normals(mesh.normals, [len(mesh.normals)])
        faces = np.stack([mesh.triangles + first, mesh.triangles + first_normal], axis=2).reshape(-1, 6)
        yield from rows(PLAIN_CORNERS, whole(faces), b"\n", [len(faces)])
        first += len(mesh.points)
        first_normal += len(mesh.points)


def _positions(points: Reals, counts: Sequence[int]) -> Iterator[bytes]:
    return rows([b"v ", b" ", b" "], fixed(turned_up(points) / 1000, 9), b"\n", counts)


def _normals(normals: Reals, counts: Sequence[int]) -> Iterator[bytes]:
    return rows([b"vn ", b" ", b" "], fixed(turned_up(normals), 6), b"\n", counts)
