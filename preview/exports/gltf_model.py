"""What a glTF file is made of, before it is one: pieces with their finish, what stands round them, and cameras."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.build import Built
from preview.exports.gltf_cameras import NamedCamera, ready_cameras
from preview.models.mesh import PieceMesh, SurroundingMesh, mesh_surroundings
from preview.scene import ON_WOOD, Finish


@dataclass(frozen=True)
class Part:
    """One piece as it is shown: its mesh and its finish."""

    mesh: PieceMesh
    finish: Finish


@dataclass(frozen=True)
class Model:
    """A whole model.

    digest: what it is known by. offered: the finishes that its molding may be shown in instead. cameras: ready views.
    """

    title: str
    parts: Sequence[Part]
    surroundings: Sequence[SurroundingMesh] = ()
    digest: str = ""
    offered: Sequence[Finish] = ()
    cameras: Sequence[NamedCamera] = ()


def model_of(built: Built, *, views: bool = True) -> Model:
    """A built scene with all that a file may say of it: its finishes to choose from and, if wanted, its ready views."""
    scene = built.scene
    around = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
    parts = [Part(mesh, member.finish) for mesh, member in zip(built.meshes, built.members, strict=True)]
    return Model(
        scene.title, parts, around, built.digest, offered(built), ready_cameras(built, around) if views else ()
    )


def offered(built: Built) -> tuple[Finish, ...]:
    """The finishes for wood that molding wears or that the scene declares, those that it wears first."""
    every = (*(member.finish for member in built.members), *built.scene.finishes)
    return tuple(dict.fromkeys(finish for finish in every if finish.kind in ON_WOOD))
