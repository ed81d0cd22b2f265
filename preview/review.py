"""A scene as a client is to see it: each combination of its options built, written, read back and judged."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from preview.approval import short_code
from preview.build import Built, build, refinished
from preview.changes import changed
from preview.checks import (
    Finding,
    Inspection,
    cores,
    inspect_bodies,
    inspect_exchange,
    inspect_surveys,
    inspect_with_trimesh,
    read_glb,
)
from preview.client import Shown
from preview.errors import PreviewError
from preview.exports import OptionReport, Report, built_glb, file_names, write_file
from preview.scene import Scene, Variant, every_variant

FOLDER = "models/options"
"""Where the options' models go, below the output folder."""
MOST_FAILURES = 10

Progress = Callable[[str, int, int], None]


def build_every(scene: Scene) -> tuple[Built, ...]:
    """Every variant of a scene, cut to pieces: the scene as drawn first.

    Raises PreviewError as `build` does; what only goes wrong with an option says which.
    """
    built: list[Built] = []
    for variant in every_variant(scene):
        alike = (found for each in built if (found := refinished(each, variant.scene)) is not None)
        try:
            built.append(next(alike, None) or build(variant.scene))
        except PreviewError as error:
            if not built:
                raise
            picked = [f'"{name}"' for _, name in picks_of(scene, variant)]
            raise error.at(f"with the options {' and '.join(picked)}") from None
    return tuple(built)


def inspect_glb(built: Built, path: Path, progress: Progress, *, second_reader: bool, views: bool = True) -> Inspection:
    """Write one model's GLB, read it back and check it; with another library's reading as well.

    views: the GLB has a camera for each ready view, which one that is thrown away needs not.
    """
    scene = built.scene
    write_file(path, built_glb(built, views=views))
    bodies = read_glb(path)
    volumes = np.array(built.volumes)
    inspection = inspect_bodies(bodies, built.pieces, built.joints, volumes, scene.chord, progress, workers=cores())
    if second_reader:
        progress("another reader", 0, 1)
        found = inspect_with_trimesh(path, built.pieces, inspection.volumes)
        inspection = replace(inspection, findings=(*inspection.findings, *found))
    surveys = [(placed.run.name, placed.survey) for placed in scene.runs if placed.survey is not None]
    return replace(inspection, findings=(*inspection.findings, *inspect_surveys(surveys)))


def inspect_file(built: Built, path: Path) -> list[Finding]:
    """Read back a file that a built scene was written to, and hold it against the scene."""
    return inspect_exchange(path, built.meshes, [member.finish.color for member in built.members], built.digest)


def inspected(built: Built, progress: Progress) -> Inspection:
    """The checks, made on a GLB that is read back from a temporary folder."""
    with tempfile.TemporaryDirectory(prefix="molding-") as folder:
        return inspect_glb(built, Path(folder, "model.glb"), progress, second_reader=False, views=False)


def every_shown(scene: Scene) -> tuple[Shown, ...]:
    """Every variant of a scene as a page shows it, not yet checked. Raises PreviewError as `build_every` does."""
    every = build_every(scene)
    first = every[0]
    return tuple(
        Shown(
            built,
            variant.picks,
            changes=() if built is first else changed(first, built),
            code=short_code(built.digest),
        )
        for variant, built in zip(every_variant(scene), every, strict=True)
    )


def checked(shown: Shown, progress: Progress) -> Shown:
    """A variant with what the checks found on it. Told of it before and on the way, `progress` may raise to end it."""
    progress("checks", 0, 1)
    inspection = inspected(shown.built, progress)
    failed = [finding for finding in inspection.findings if not finding.holds]
    return replace(shown, inspection=inspection, failures=sentences(failed))


def review(scene: Scene, progress: Progress = lambda *_: None) -> list[Shown]:
    """Every variant of a scene, built and checked. Raises PreviewError as `build_every` does."""
    return [checked(each, progress) for each in every_shown(scene)]


def inspect_options(
    scene: Scene, every: tuple[Built, ...], folder: Path, progress: Progress, *, second_reader: bool, keep: bool
) -> list[OptionReport]:
    """Every variant but the first, which is the scene as drawn, and what was found on its GLB below `folder`.

    keep: the GLB stays there, and is held against its variant like any file for others; else it goes again.
    """
    named = [(variant, picks_of(scene, variant)) for variant in every_variant(scene)]
    files = file_names([" ".join(name for _, name in picks) or "as drawn" for _, picks in named], ".glb")
    found = []
    for number, ((_, picks), built, file) in enumerate(zip(named, every, files, strict=True)):
        if number == 0:
            continue
        progress("options", number - 1, len(every) - 1)
        path = folder / FOLDER / file
        path.parent.mkdir(parents=True, exist_ok=True)
        inspection = inspect_glb(built, path, lambda *_: None, second_reader=second_reader)
        if keep:
            inspection = replace(inspection, findings=(*inspection.findings, *inspect_file(built, path)))
        words, code = changed(every[0], built), short_code(built.digest)
        found.append(OptionReport(picks, built, inspection, words, code, f"{FOLDER}/{file}" if keep else ""))
        if not keep:
            path.unlink()
            path.parent.rmdir()
    return found


def picks_of(scene: Scene, variant: Variant) -> tuple[tuple[str, str], ...]:
    """What a variant picks: (choice, alternative) for each choice."""
    return tuple(
        (choice.name, choice.alternatives[pick].name) for choice, pick in zip(scene.choices, variant.picks, strict=True)
    )


def shown(report: Report, scene: Scene) -> list[Shown]:
    """What the client's page shows: the scene as drawn and every option, each with what was measured on it."""
    variants = every_variant(scene)
    first = Shown(
        report.built,
        variants[0].picks,
        (),
        report.inspection,
        sentences(report.failures),
        report.code,
    )
    others = [
        Shown(each.built, variant.picks, tuple(each.changes), each.inspection, sentences(each.failures), each.code)
        for each, variant in zip(report.options, variants[1:], strict=True)
    ]
    return [first, *others]


def sentences(failures: list[Finding]) -> tuple[str, ...]:
    """What failed, in words a client may read; the first few, and how many there are more."""
    told: dict[str, None] = {}
    for each in failures[:MOST_FAILURES]:
        figures = f": {each.figure:.3g} {each.check.unit}, limit {each.limit:.3g}" if math.isfinite(each.figure) else ""
        told[f"{each.subject}: {each.detail or each.check.question}{figures}"] = None
    more = len(failures) - MOST_FAILURES
    return (*told, f"and {more} more") if more > 0 else tuple(told)
