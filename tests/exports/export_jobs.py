"""Jobs that the export tests write out, and a reader of GLB that only knows the specification."""

from __future__ import annotations

import json
import math
import struct
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from preview.exports import Part, glb_bytes
from preview.joinery import join
from preview.models.mesh import PieceMesh, mesh_runs, mesh_surroundings
from preview.profiles import Line, Profile, arc_through, make_profile
from preview.runs import Corner, Curve, Run, Straight, lay_out, through_points
from preview.scene import Finish, RunInScene, Surrounding

PAINT = Finish("harbor white", (0.5, 0.75, 1.0), roughness=0.35)
OAK = Finish("oak", (0.6, 0.42, 0.25), roughness=0.6, metallic=0.0, kind="clear")
CHORD = 0.05
QUARTER = math.pi / 2
NASTY = 'a/b "q" <x> ../..'


def base() -> Profile:
    """20 mm thick and 90 high, a 14 mm quarter round on its upper edge that leaves a 6 mm fillet on top.

    The quarter round meets the face smoothly and the top at an arris: five arrises in all with the fillet's.
    """
    h = 90.0
    top = (6.0, h - 8.0)
    rise = (20.0, h - 22.0)
    via = (6.0 + 14 * math.cos(math.pi / 4), h - 22.0 + 14 * math.sin(math.pi / 4))
    return make_profile(
        "base",
        [
            Line((0.0, 0.0), (20.0, 0.0)),
            Line((20.0, 0.0), rise),
            arc_through(rise, via, top),
            Line(top, (6.0, h)),
            Line((6.0, h), (0.0, h)),
            Line((0.0, h), (0.0, 0.0)),
        ],
    )


def shoe() -> Profile:
    """A 12 by 19 mm shoe with a rounded face, standing before the base."""
    profile = make_profile(
        "shoe",
        [
            Line((0.0, 0.0), (12.0, 0.0)),
            arc_through((12.0, 0.0), (12 * math.cos(0.7), 19 * math.sin(0.7)), (0.0, 19.0)),
            Line((0.0, 19.0), (0.0, 0.0)),
        ],
    )
    return profile.moved(20.0, 0.0)


@dataclass(frozen=True)
class Job:
    title: str
    runs: tuple[Run, ...]
    members: tuple[tuple[str, Profile], ...] = (("base", base()),)
    surroundings: tuple[Surrounding, ...] = ()
    wall: float | None = None

    def meshes(self, chord: float = CHORD) -> list[PieceMesh]:
        return mesh_runs([join(run, name, it) for run in self.runs for name, it in self.members], chord)

    def parts(self, chord: float = CHORD) -> list[Part]:
        return [Part(mesh, PAINT if mesh.piece.member == self.members[0][0] else OAK) for mesh in self.meshes(chord)]

    def glb(self, chord: float = CHORD, digest: str = "0123abcd") -> bytes:
        names = tuple(name for name, _ in self.members)
        placed = [RunInScene(run, names, self.wall) for run in self.runs]
        shown = mesh_surroundings(self.surroundings, placed, chord)
        return glb_bytes(self.title, self.parts(chord), shown, digest)


def _run(name: str, steps: list[Any], **more: Any) -> tuple[Run, ...]:
    return (lay_out(name, steps, **more),)


@cache
def jobs() -> dict[str, Job]:
    corner = [Straight(400.0), Corner(QUARTER), Straight(300.0)]
    away = {"start": (2500.0, -1250.5), "heading": 0.3}
    straight = _run("bench front", [Straight(1000.0)])
    stadium = [Straight(500.0), Curve(math.pi, 200.0), Straight(500.0), Curve(math.pi, 200.0)]
    ground = Surrounding("ground", "floor", (0, 0), (0, 0), 0.0, 0.0, 0.0, 0.0, OAK)
    bench = Surrounding("bench", "box", (0, -310), (500, 300), 25.0, 0.0, 450.0, 0.1, PAINT)
    case = Surrounding("case", "box", (600, -310), (500, 300), 0.0, 0.0, 450.0, 0.0, PAINT)
    pier = Surrounding("pier", "column", (-300, 0), (240, 240), 120.0, 0.0, 2400.0, 0.0, OAK)
    bent = [
        Straight(500.0),
        Corner(0.6),
        Curve(0.9, 300.0),
        Corner(-0.8),
        Curve(-0.7, 250.0),
        Corner(-0.5),
        Straight(300.0),
    ]
    return {
        "straight": Job("Straight", straight),
        "miter, inside corner": Job("Inside", _run("left", corner, room="left", **away)),
        "miter, outside corner": Job("Outside", _run("right", corner, room="right", **away)),
        "tangent curve": Job("Tangent", _run("bay", [Straight(400.0), Curve(-QUARTER, 60.0), Straight(250.0)], **away)),
        "curved miter": Job("Curved miter", _run("bay", bent, **away)),
        "closed": Job("Closed", _run("island", stadium, room="right", closed=True)),
        "two members": Job(
            "Two members", _run("bench front", corner, room="right"), (("base", base()), ("shoe", shoe()))
        ),
        "nasty names": Job(
            f"Ünïcode \U0001f6aa {NASTY}\n\t\\",
            (*_run(NASTY, corner), *_run("Βάση", corner, start=(5000.0, 0.0)), *straight),
            ((NASTY, base()), ("sööe", shoe())),
        ),
        "surroundings": Job("Surroundings", straight, (), (ground, bench, case, pier), 900.0),
        "everything": Job(
            "Everything",
            (*straight, *_run("bay", bent, **away)),
            (("base", base()), ("shoe", shoe())),
            (ground, bench, case, pier),
            900.0,
        ),
        "far away": Job("Far away", _run("far", bent, start=(2_000_000.0, -3_000_000.0))),
        "points": Job("Points", (through_points("room", [(0, 0), (900, 0), (1200, 700)], closed=True),)),
    }


@dataclass(frozen=True)
class Raw:
    """A GLB's JSON and bytes (glTF 2.0, chapter 4: 12-byte header, then chunks of length, kind, data)."""

    document: dict[str, Any]
    data: bytes

    @classmethod
    def of(cls, glb: bytes) -> Raw:
        assert struct.unpack_from("<4sII", glb) == (b"glTF", 2, len(glb))
        size, kind = struct.unpack_from("<I4s", glb, 12)
        assert kind == b"JSON"
        document = json.loads(glb[20 : 20 + size])
        more, kind = struct.unpack_from("<I4s", glb, 20 + size)
        assert kind == b"BIN\0"
        assert 28 + size + more == len(glb)
        return cls(document, glb[28 + size :])

    def array(self, accessor: int) -> np.ndarray:
        """An accessor's numbers exactly as stored."""
        entry = self.document["accessors"][accessor]
        view = self.document["bufferViews"][entry["bufferView"]]
        kind = {5126: "<f4", 5123: "<u2", 5125: "<u4"}[entry["componentType"]]
        width = {"SCALAR": 1, "VEC2": 2, "VEC3": 3}[entry["type"]]
        start = view["byteOffset"] + entry["byteOffset"]
        assert view.get("byteStride", np.dtype(kind).itemsize * width) == np.dtype(kind).itemsize * width
        numbers = np.frombuffer(self.data, kind, entry["count"] * width, start)
        return numbers.reshape(-1, width) if width > 1 else numbers

    def node(self, name: str) -> dict[str, Any]:
        (found,) = [node for node in self.document["nodes"] if node["name"] == name]
        return found

    def primitive(self, name: str) -> dict[str, Any]:
        (primitive,) = self.document["meshes"][self.node(name)["mesh"]]["primitives"]
        return primitive

    def attribute(self, name: str, what: str) -> np.ndarray:
        return self.array(self.primitive(name)["attributes"][what])

    def triangles(self, name: str) -> np.ndarray:
        return self.array(self.primitive(name)["indices"]).reshape(-1, 3)


def written(job: Job, folder: Path) -> Path:
    path = folder / "job.glb"
    path.write_bytes(job.glb())
    return path


def sides(mesh: PieceMesh) -> int:
    """How many render vertices belong to a piece's sides; the rest are its two ends."""
    return len(mesh.normals) - 2 * len(mesh.shape.face.d)


def storage_step(points: np.ndarray) -> float:
    """How far apart neighboring 32-bit floats lie at the farthest coordinate, in the points' own unit."""
    return float(np.spacing(np.float32(np.abs(points).max())))
