"""What the verbs have in common: build a scene, write its models, read them back, judge them, report."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from preview.approval import short_code
from preview.build import Built
from preview.checks import (
    Finding,
    Inspection,
    cores,
    inspect_exchange,
    inspect_solids,
    inspect_stl,
)
from preview.errors import PreviewError
from preview.exports import (
    FORMATS,
    REPORT,
    USUAL,
    LeftOut,
    Report,
    Stage,
    WrittenFile,
    drawn_joints,
    file_names,
    files_of,
    joint_files,
    picked_of,
    raked_files,
    raked_profiles,
    read_back,
    refuse_other_scene,
    report_json,
    staged,
    stem_of,
    stl_blocks,
    write_file,
    write_files,
)
from preview.jobs.approvals import approval_lines, approval_values
from preview.jobs.holding import step_findings
from preview.jobs.package import Client, brand_of, stills_begun, with_drawings, with_package
from preview.jobs.picturing import Progress
from preview.models import solid
from preview.review import build_every, inspect_file, inspect_glb, inspect_options
from preview.scene import NEUTRAL, STARTER, Scene

MODELS = "models"
PLACES = {"pictures": "picture", "drawings": "drawing", "joints": "joint", "profiles": "profile"}
"""What the files of a folder are, as the report says; those of models are of the format that their names end in."""
PUBLISHING = "moving into place"
"""The last stage: from here on the work is not stopped."""


@dataclass(frozen=True)
class Wanted:
    """What a run of the command is to make: formats, an STL for each piece, the solid proof, another library's reading.

    kept: the files are for others, who are to find the scene in them; else they are only measured. whole: everything
    there is for the scene, so that what an earlier build of it left over may go. client: the page, the pictures, the
    drawings and the sheet.
    """

    formats: Collection[str] = USUAL
    pieces: bool = True
    solids: bool = True
    second_reader: bool = True
    kept: bool = True
    whole: bool = False
    client: Client | None = None


@dataclass(frozen=True)
class Kind:
    """What a file is: its format, and of a level of detail its number and its chord, mm."""

    format: str
    level: int | None = None
    chord: float | None = None


@dataclass(frozen=True)
class Outcome:
    """What came of it: the report, the files that were written, and what clients answered, in words.

    removed, other: of the build that stood there before, as `Published` tells it.
    """

    report: Report
    written: Sequence[Path] = ()
    removed: int = 0
    approvals: Sequence[str] = ()
    other: str = ""


def new_scene(path: Path) -> None:
    """Write the starter scene. Raises PreviewError when a file of that name is there already."""
    if os.path.lexists(path):
        raise PreviewError("", None, "there is a file of this name already", "give another name", str(path))
    if path.suffix != ".toml":
        raise PreviewError("", None, "a scene file's name ends in .toml", f"name it {path.name}.toml", str(path))
    write_file(path, STARTER.encode())


def check_scene(scene: Scene, *, solids: bool, progress: Progress) -> Outcome:
    """Build a scene in a temporary folder, measure it there, and keep nothing but the report.

    Raises PreviewError as `build_every` does, and for a mistake in the brand's file that a build would fail of.
    """
    brand_of(scene, None)
    every = build_every(scene)
    with tempfile.TemporaryDirectory(prefix="molding-") as folder:
        stage = Stage(Path(folder), Path(folder))
        wanted = Wanted(("glb", "stl"), pieces=False, solids=solids, second_reader=False, kept=False)
        report, _ = _make(scene, every, stage, wanted, progress)
        return Outcome(report, approvals=approval_lines(scene, every))


def build_scene(scene: Scene, out: Path, wanted: Wanted, progress: Progress) -> Outcome:
    """Build a scene into a folder: models, and the report on what was measured on them.

    Raises PreviewError, and then writes nothing, as `build_every` does, for a folder that holds what was made of
    another scene or that cannot be written to, and for a format that cannot be made.
    """
    refuse_other_scene(out, scene.path.name)
    # A mistake in it ends the work before it begins.
    brand = brand_of(scene, wanted.client.brand) if wanted.client else NEUTRAL
    every = build_every(scene)
    with staged(out) as stage, stills_begun(scene, every, wanted.client) as stills:
        report, kinds = _make(scene, every, stage, wanted, progress)
        if wanted.client:
            report = with_drawings(report, stage, progress)
            report = with_package(report, scene, stage, wanted.client, brand, stills, progress)
        report = replace(report, files=[_told(each, stem_of(scene), kinds) for each in stage.files()])
        write_file(stage.folder / REPORT, report_json(report).encode())
        progress(PUBLISHING, 0, 1)
        published = stage.publish(scene.path.name, scene.title, whole=wanted.whole)
        return Outcome(report, published.files, published.removed, approval_lines(scene, every), published.other)


def _told(file: WrittenFile, stem: str, kinds: Mapping[str, Kind]) -> WrittenFile:
    """A file with what it is: of a format's as that said, else by its place."""
    folder, _, name = file.path.rpartition("/")
    if (kind := kinds.get(file.path)) is not None:
        return replace(file, format=kind.format, level=kind.level, chord=kind.chord)
    if folder:
        return replace(file, format=PLACES.get(folder.split("/")[0]) or Path(name).suffix.removeprefix("."))
    return replace(file, format={f"{stem}.html": "page", f"{stem}.pdf": "sheet"}.get(name, ""))


def _make(
    scene: Scene, every: tuple[Built, ...], stage: Stage, wanted: Wanted, progress: Progress
) -> tuple[Report, Mapping[str, Kind]]:
    """The report on the models that are written to a stage, and what the files of the formats are, by their paths."""
    built = every[0]
    stem = stem_of(scene)
    models = stage.folder / MODELS
    models.mkdir()
    with _kept(models / f"{stem}.glb", "glb" in wanted.formats) as glb:
        progress("writing GLB", 0, 1)
        # The inspection always reads a GLB back, whether or not it is kept: it is the format with names.
        inspection = inspect_glb(
            built, glb, progress, second_reader=wanted.second_reader, views="glb" in wanted.formats and wanted.kept
        )
        if wanted.kept and "glb" in wanted.formats:
            inspection = _add(inspection, inspect_file(built, glb))
    if "stl" in wanted.formats:
        inspection = _add(inspection, _write_stl(built, models, stem, wanted, progress))
    findings, kinds = _write_formats(built, models, stem, wanted, progress)
    inspection = _add(inspection, findings)
    left_out: list[LeftOut] = []
    solid_volumes: Sequence[float] = ()
    if wanted.solids or "step" in wanted.formats:
        missing = solid.available()
        progress("solids", 0, len(built.pieces))  # an interruption that a loading library swallowed shows here
        if missing:
            left_out.append(LeftOut("the solid proof" + (" and STEP" if "step" in wanted.formats else ""), missing))
        else:
            findings, solid_volumes = _solids(built, models, stem, wanted, progress)
            inspection = _add(inspection, findings)
    each = wanted.pieces and "stl" in wanted.formats
    report = Report(
        built,
        inspection,
        solid_volumes,
        left_out,
        piece_files=_piece_files(built) if each else (),
        raked=raked_profiles(built, drawn=wanted.whole),
        code=short_code(built.digest),
        options=inspect_options(
            scene, every, stage.folder, progress, second_reader=wanted.second_reader, keep=wanted.whole
        ),
        approvals=approval_values(scene, every),
    )
    if wanted.whole:
        report = _with_joint_drawings(report, stage, progress)
    return report, kinds


def _write_formats(
    built: Built, models: Path, stem: str, wanted: Wanted, progress: Progress
) -> tuple[list[Finding], dict[str, Kind]]:
    """The findings on the files of the formats that are asked for by name, and what each file is."""
    findings: list[Finding] = []
    kinds: dict[str, Kind] = {}
    taken = {f"{stem}.{name}".casefold(): name for name in USUAL if name in wanted.formats}
    for name in (each for each in FORMATS if each in wanted.formats):
        progress(f"writing {name.upper()}", 0, 1)
        files = files_of(name, built, stem, taken)
        taken |= {file.casefold(): name for file, _ in files}
        kinds |= {f"{MODELS}/{file}": Kind(name) for file, _ in files}
        write_files((models / file, content) for file, content in files)
        progress(f"reading {name.upper()} back", 0, 1)
        for number, (file, made) in enumerate(read_back(name, built, files), 1):
            findings += inspect_file(made, models / file)
            if name == "levels":
                kinds[f"{MODELS}/{file}"] = Kind(name, number, made.scene.chord)
    return findings, kinds


def _with_joint_drawings(report: Report, stage: Stage, progress: Progress) -> Report:
    """The report with its joints drawn, and the profiles that climbing pieces need at full size."""
    built = report.built
    progress("drawing joints", 0, 1)
    drawn = drawn_joints(built, report.inspection)
    files = joint_files([drawing for drawing in drawn if drawing is not None])
    write_files(
        (stage.folder / name, content)
        for name, content in [*files, *raked_files(report.raked, built.scene.units in ("in", "ft"))]
    )
    names = iter(name for name, _ in files)
    return replace(report, joint_files=["" if drawing is None else next(names) for drawing in drawn])


def _write_stl(built: Built, models: Path, stem: str, wanted: Wanted, progress: Progress) -> list[Finding]:
    progress("writing STL", 0, 1)
    whole = models / f"{stem}.stl"
    write_file(whole, stl_blocks(built.meshes, built.scene.title, built.digest))
    volume = float(sum(mesh.volume for mesh in built.meshes))
    triangles = [len(mesh.triangles) for mesh in built.meshes]
    findings = inspect_stl(whole, volume, triangles, cores())
    if wanted.kept:
        findings += inspect_file(built, whole)
    if wanted.pieces:
        progress("writing pieces", 0, 1)
        paths = [models.parent / name for name in _piece_files(built)]
        write_files(
            (path, stl_blocks([mesh], mesh.piece.name, built.digest))
            for path, mesh in zip(paths, built.meshes, strict=True)
        )
        for path, mesh, member in zip(paths, built.meshes, built.members, strict=True):
            findings += inspect_exchange(path, [mesh], [member.finish.color], built.digest)
    return findings


def _piece_files(built: Built) -> list[str]:
    """Where each piece's own STL goes, below the output folder."""
    folder = f"{MODELS}/pieces{picked_of(built.scene)}"
    return [f"{folder}/{name}" for name in file_names([piece.name for piece in built.pieces], ".stl")]


def _solids(
    built: Built, models: Path, stem: str, wanted: Wanted, progress: Progress
) -> tuple[list[Finding], list[float]]:
    count = len(built.pieces)
    made = solid.make_solids(built.pieces, lambda done: progress("solids", done, count))
    figures = solid.figures(made, built.meshes)
    findings = inspect_solids(figures, built.pieces, built.meshes, built.volumes, built.scene.chord)
    if "step" in wanted.formats:
        progress("writing STEP", 0, 1)
        path = models / f"{stem}.step"
        colors = [member.finish.color for member in built.members]
        made.write_step(path, built.scene.title, colors, built.digest)
        findings += step_findings(built, path, figures)
    return findings, [f.volume for f in figures]


def _add(inspection: Inspection, findings: Sequence[Finding]) -> Inspection:
    return replace(inspection, findings=(*inspection.findings, *findings))


@contextmanager
def _kept(path: Path, keep: bool) -> Iterator[Path]:
    """The path of a file to write, which is removed afterwards unless it is to be kept."""
    try:
        yield path
    finally:
        if not keep:
            path.unlink(missing_ok=True)
