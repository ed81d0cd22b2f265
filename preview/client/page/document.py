"""The document that the page shows: every variant of a scene with its shapes, words and views, in one container.

What it holds is said in web/src/document.ts; both sides are changed together.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.client.page.apart import apart_of
from preview.client.page.bodies import GRID, Bodies
from preview.client.page.container import Arrays, Record, container
from preview.client.page.finishes import Finishes
from preview.client.page.labels import label_places
from preview.client.page.shown import Shown
from preview.client.page.views import View, common_views, corner_views, section_views
from preview.client.page.words import (
    CAUTION,
    Alike,
    dimensions,
    forecasts_by_name,
    joint_figures,
    joint_name,
    places_along,
    turn_text,
)
from preview.models.mesh import SurroundingMesh, mesh_surroundings
from preview.runs import Run
from preview.scene import Scene
from preview.vantage import (
    Job,
    JointPlace,
    Path,
    corner_side,
    corners_of,
    ends_of,
    eyes_of,
    joint_pieces,
    joint_places,
    looks_of,
    paths_of,
    place_step,
    sight_of,
)

Floats = NDArray[np.float64]

ROUGH = 2.0
"""The chord, mm, of what may hide the molding where the view of the whole is chosen."""


def model_document(scene: Scene, shown: Sequence[Shown]) -> bytes:
    """The container that page and server hand over.

    shown: the scene as drawn first. Raises ValueError when there is nothing to show.
    """
    if not shown:
        raise ValueError("a document shows one variant at least")
    return _Writer(scene, shown).written()


def figures(shown: Sequence[Shown]) -> Record:
    """What the checks found, for a page that already shows the model: the document's own keys, in its order."""
    return {
        "variants": [
            {
                "picks": list(each.picks),
                "digest": each.built.digest,
                **_verdict(each),
                "joints": list(_judged(each)),
            }
            for each in shown
        ]
    }


def _verdict(shown: Shown) -> Record:
    return {
        "code": shown.code,
        "holds": shown.holds,
        "failures": list(shown.failures),
        "checks": len(shown.inspection.findings) if shown.inspection else 0,
    }


def _judged(shown: Shown) -> list[Record]:
    """The figures of each listed joint, and whether they hold."""
    inspection = shown.inspection
    if inspection is None:
        return [{"figures": None, "holds": None} for _ in shown.listed]
    holds, forecasts = shown.joints_hold(), forecasts_by_name(shown.built)
    found = []
    for number in shown.listed:
        name = shown.built.joints[number].joint.name
        told = joint_figures(inspection.meetings[number], forecasts.get(name))
        found.append({"figures": told, "holds": holds.get(name)})
    return found


class _Writer:
    """The document as it grows; what variants have in common is made once."""

    def __init__(self, scene: Scene, shown: Sequence[Shown]) -> None:
        self.scene = scene
        self.shown = shown
        self.arrays = Arrays()
        self.bodies = Bodies(self.arrays)
        self.finishes = Finishes([each.built for each in shown])
        self.origin = _middle(shown[0].built)
        self._around: list[tuple[tuple[Any, ...], list[SurroundingMesh]]] = []
        self._paths: list[tuple[list[Run], dict[str, Path]]] = []
        self._drawn: dict[tuple[Any, ...], Record] = {}

    def written(self) -> bytes:
        scene, first = self.scene, self.shown[0].built
        around = self.around(first)
        rough = mesh_surroundings(first.scene.surroundings, first.scene.runs, ROUGH)
        common = common_views([each.built for each in self.shown], around, rough)
        variants = [self.variant(each, common) for each in self.shown]
        document = {
            "schema": 1,
            "title": scene.title,
            "file": scene.path.name,
            "units": scene.units,
            "caution": CAUTION,
            "origin": self.origin.tolist(),
            "finishes": self.finishes.records(),
            "bodies": self.bodies.records,
            "choices": choices_of(scene),
            "variants": variants,
        }
        return container(document, self.arrays)

    def around(self, built: Built) -> list[SurroundingMesh]:
        """What stands round a variant; most variants have the same."""
        scene = built.scene
        key = (scene.surroundings, tuple((placed.run, placed.wall) for placed in scene.runs), scene.chord)
        for known, meshes in self._around:
            if known == key:
                return meshes
        found = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
        self._around.append((key, found))
        return found

    def variant(self, shown: Shown, common: Sequence[View]) -> Record:
        built = shown.built
        drawn = self.drawn(shown, common)
        members = [{"finish": self.finishes.number(look.finish)} for look in built.members]
        return {
            "picks": list(shown.picks),
            "digest": built.digest,
            "changes": list(shown.changes),
            **_verdict(shown),
            **drawn,
            "pieces": [piece | member for piece, member in zip(drawn["pieces"], members, strict=True)],
            "joints": [joint | judged for joint, judged in zip(drawn["joints"], _judged(shown), strict=True)],
            "surroundings": [self.surrounding(mesh) for mesh in self.around(built)],
        }

    def drawn(self, shown: Shown, common: Sequence[View]) -> Record:
        """What of a variant does not depend on its finishes, nor on what was measured; alike ones share it."""
        built = shown.built
        around = self.around(built)
        bodies = [self.bodies.piece(mesh) for mesh in built.meshes]
        origins = [self.place(mesh.points[0], 4) for mesh in built.meshes]
        key = (
            tuple((piece.name, body, *at) for piece, body, at in zip(built.pieces, bodies, origins, strict=True)),
            tuple((pair.joint.name, pair.joint.kind) for pair in built.joints),
            id(around),
        )
        if key not in self._drawn:
            job = Job(built, looks_of(built), self.paths(built))
            places = joint_places(job)
            sight = sight_of(built, around)
            views = [*common, *corner_views(job, corners_of(job, places), sight), *section_views(job)]
            self._drawn[key] = {
                "low": self.place(np.min([mesh.points.min(axis=0) for mesh in built.meshes], axis=0)),
                "high": self.place(np.max([mesh.points.max(axis=0) for mesh in built.meshes], axis=0)),
                "pieces": self.pieces(job, places, bodies, origins),
                "joints": self.joints(job, places, eyes_of([place.spot for place in places], sight)),
                "paths": [self.path(path) for path in job.paths.values()],
                "views": [self.view(view) for view in views],
            }
        return self._drawn[key]

    def paths(self, built: Built) -> dict[str, Path]:
        """The paths of a variant's runs; most variants have the same."""
        runs = [placed.run for placed in built.scene.runs]
        for known, paths in self._paths:
            if known == runs:
                return paths
        found = paths_of(built, built.scene.chord)
        self._paths.append((runs, found))
        return found

    def pieces(
        self, job: Job, places: Sequence[JointPlace], bodies: Sequence[int], origins: Sequence[list[float]]
    ) -> list[Record]:
        built = job.built
        ends: dict[tuple[int, bool], int] = {}
        for listed, place in enumerate(places):
            ends |= dict.fromkeys(ends_of(built.joints[place.number]), listed)
        apart, labels = apart_of(job), label_places(job)
        found = []
        for i, piece in enumerate(built.pieces):
            sizes, short = dimensions(Alike.of(piece, self.bodies.digests[bodies[i]]))
            found.append(
                {
                    "name": piece.name,
                    "run": piece.run,
                    "member": piece.member,
                    "kind": piece.kind,
                    "body": bodies[i],
                    "origin": origins[i],
                    "apart": rounded(apart[i]),
                    "label": self.place(labels[i]),
                    "dimensions": sizes,
                    "short": short,
                    "begin": ends.get((i, False), -1),
                    "end": ends.get((i, True), -1),
                }
            )
        return found

    def joints(self, job: Job, places: Sequence[JointPlace], eyes: Sequence[Floats]) -> list[Record]:
        found = []
        for place, eye in zip(places, eyes, strict=True):
            pair = job.built.joints[place.number]
            rim = np.rint((place.rim - self.origin) * GRID) / GRID
            found.append(
                {
                    "name": joint_name(pair.joint),
                    "kind": pair.joint.kind,
                    "corner": corner_side(pair.joint),
                    "turn": turn_text(pair.joint),
                    "pieces": joint_pieces(pair),
                    "place": self.place(place.place),
                    "target": self.place(place.spot.target),
                    "eye": self.place(eye, 1),
                    "path": place.path,
                    "station": round(place.station, 3),
                    "rim": self.arrays.add(rim.astype(np.float32)),
                }
            )
        return found

    def surrounding(self, mesh: SurroundingMesh) -> Record:
        return {
            "name": mesh.name,
            "kind": mesh.kind,
            "body": self.bodies.surrounding(mesh),
            "origin": self.place(np.array([*mesh.origin, 0.0]), 4),
            "finish": self.finishes.number(mesh.finish),
            "sheet": mesh.both_sides,
        }

    def path(self, path: Path) -> Record:
        samples = path.samples.copy()
        samples[:, 1:4] -= self.origin
        step = place_step(path.length, self.scene.units)
        return {
            "run": path.run.name,
            "closed": path.run.closed,
            "length": round(path.length, 4),
            "samples": self.arrays.add(samples.astype(np.float32)),
            "step": step,
            "places": places_along(path.length, step),
        }

    def view(self, view: View) -> Record:
        return {
            "name": view.name,
            "kind": view.kind,
            "eye": self.place(view.eye),
            "target": self.place(view.target),
            "flat": view.flat,
            "near": round(view.near, 1),
            "cut": None if view.cut is None else {"path": view.cut[0], "station": round(view.cut[1], 3)},
        }

    def place(self, point: Floats, digits: int = 2) -> list[float]:
        """A point of the scene, measured from the document's origin."""
        return rounded(point - self.origin, digits)


def rounded(vector: Floats, digits: int = 2) -> list[float]:
    """Numbers for the JSON, without a minus before a zero."""
    found: list[float] = (np.round(vector, digits) + 0.0).tolist()
    return found


def _middle(built: Built) -> Floats:
    """A point in whole millimeters near the middle of the molding."""
    low = np.min([mesh.points.min(axis=0) for mesh in built.meshes], axis=0)
    high = np.max([mesh.points.max(axis=0) for mesh in built.meshes], axis=0)
    middle: Floats = np.rint((low + high) / 2) + 0.0
    return middle


def choices_of(scene: Scene) -> list[Record]:
    """The decisions that the scene leaves open, each with its alternatives."""
    return [
        {
            "name": choice.name,
            "alternatives": [{"name": each.name, "says": each.says} for each in choice.alternatives],
        }
        for choice in scene.choices
    ]
