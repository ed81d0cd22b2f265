"""The verbs `picture` and `sheet`: what a client looks at and signs, made by itself."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from preview.cli import show
from preview.client import stills_of, telling
from preview.errors import PreviewError
from preview.exports import picked_of, refuse_listed, refuse_unwritable, write_file, write_files
from preview.jobs import (
    PACKAGE,
    Client,
    Size,
    brand_of,
    made_stills,
    making,
    sheet_job,
    stills_begun,
    wanted_stills,
)
from preview.review import build_every, checked, every_shown
from preview.scene import Scene
from preview.sheet import sheet_pdf
from preview.units import counted


def size_of(text: str) -> Size:
    """A picture's size as it is written, WIDTHxHEIGHT in pixels."""
    wide, cross, high = text.lower().partition("x")
    if not cross or not wide.strip().isdecimal() or not high.strip().isdecimal():
        raise PreviewError("--size", text, "a size is written as width x height, in pixels", "such as 1600x1000")
    return int(wide), int(high)


def list_stills(scene: Scene) -> None:
    """Print the name of every still there is of a scene, and what it shows."""
    stills = stills_of(scene, build_every(scene))
    wide = max(len(still.key) for still in stills)
    for still in stills:
        show.output().print(f"{still.key:<{wide}}  {still.name}", markup=False)


def write_stills(
    scene: Scene, out: Path | None, views: Sequence[str], *, every_view: bool, size: str, quick: bool
) -> None:
    """Make stills and write them: one to a file, several to a folder.

    Raises PreviewError, before the work, for a view that there is not, a size that no picture has, and a place that
    cannot be written to; then nothing is written.
    """
    if out is None:
        fix = "--out FILE.png for one, --out FOLDER for several"
        raise PreviewError("--out", None, "say where the pictures go", fix)
    if every_view and views:
        raise PreviewError("--all", None, "all views are asked for, and single ones", "leave out --all or --view")
    pixels = size_of(size)
    one = out.suffix != ""
    if one and out.suffix.lower() != ".png":
        fix = "give a name that ends in .png, or a folder's"
        raise PreviewError("", None, "a picture is written as PNG", fix, str(out))
    every = build_every(scene)
    stills = stills_of(scene, every)
    usual = stills if every_view else telling(stills, 1 if one else PACKAGE)
    wanted = wanted_stills(stills, views) if views else list(usual)
    if one and len(wanted) > 1:
        raise PreviewError("--out", str(out), f"{len(wanted)} pictures do not go into one file", "give a folder's name")
    paths = [out if one else out / f"{still.key}{picked_of(scene)}.png" for still in wanted]
    refuse_listed(paths, scene.path.name)
    refuse_unwritable(paths)
    with (
        show.Progress(gently=False) as progress,
        making(every, wanted, pixels, "quick" if quick else "final") as work,
    ):
        made = work.made(progress.step)
        write_files((path, each.image) for path, each in zip(paths, made, strict=True))
    for path in paths:
        show.output().print(f"wrote {path}", markup=False)
    if quick:
        rough = counted(len(paths), "rough picture")
        show.output().print(f"{rough}: leave out --quick for what a client is to see")


def write_sheet(scene: Scene, out: Path, client: Client) -> bool:
    """Build and check a scene and write its sheet; whether all holds. Raises PreviewError, and then writes nothing."""
    if out.suffix.lower() != ".pdf":
        raise PreviewError("", None, "a sheet is written as PDF", "give a name that ends in .pdf", str(out))
    refuse_listed([out], scene.path.name)
    refuse_unwritable([out])
    brand = brand_of(scene, client.brand)
    built = every_shown(scene)
    with (
        show.Progress(gently=False) as progress,
        stills_begun(scene, [each.built for each in built], client) as stills,
    ):
        variants = [checked(each, progress.step) for each in built]
        made, why = made_stills(stills, progress.step)
        progress.step("writing the sheet", 0, 1)
        write_file(out, sheet_pdf(sheet_job(scene, variants, made, client, brand)))
    if why:
        show.output().print(f"left out: the pictures: {why}", markup=False)
    show.output().print(f"wrote {out}", markup=False)
    return all(each.holds for each in variants)
