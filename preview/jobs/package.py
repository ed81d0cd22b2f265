"""What a client gets beside the models: pictures, line drawings, the page, and the sheet to be signed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import cast, get_args

from preview.build import Built
from preview.client import Quality, Shown, as_photo, as_poster, page_html, stills_of, telling
from preview.drafting import drawing_svg, drawings_of
from preview.errors import PreviewError
from preview.exports import LeftOut, Report, ShownFile, Stage, file_names, stem_of, write_file, write_files
from preview.jobs.picturing import (
    FOLDER,
    PACKAGE,
    SIZE,
    MadeStill,
    Progress,
    StillsInTheMaking,
    making,
)
from preview.review import shown
from preview.scene import NEUTRAL, Brand, PaperName, Scene, load_brand
from preview.sheet import Photo, SheetJob, sheet_pdf

DRAWINGS = "drawings"


@dataclass(frozen=True)
class Client:
    """How the client's package is to be made.

    quality: of the pictures, None for none. paper, brand: None for what the scene says, or for what is usual. made: the
    date on the sheet. taken: the alternatives that were taken for the scene.
    """

    quality: Quality | None = "final"
    paper: PaperName | None = None
    brand: Path | None = None
    made: date | None = None
    taken: Sequence[str] = ()


def client_of(
    quick: bool, no_pictures: bool, paper: str | None, brand: Path | None, taken: Sequence[str] | None
) -> Client:
    """The package as the command line asks for it. Raises PreviewError for what does not go together."""
    if quick and no_pictures:
        raise PreviewError(
            "--quick", None, "rough pictures are asked for, and none", "leave out --quick or --no-pictures"
        )
    return Client(None if no_pictures else "quick" if quick else "final", paper_named(paper), brand, taken=taken or ())


def paper_named(name: str | None) -> PaperName | None:
    """The paper of that name, in capitals or not. Raises PreviewError for one that there is not."""
    if name is None:
        return None
    for paper in get_args(PaperName):
        if paper == name.strip().casefold():
            return cast(PaperName, paper)
    fix = f"write {', '.join(get_args(PaperName)[:-1])} or {get_args(PaperName)[-1]}"
    raise PreviewError("--paper", name, "the sheet is not laid out for this paper", fix)


@contextmanager
def stills_begun(
    scene: Scene, every: Sequence[Built], client: Client | None
) -> Iterator[StillsInTheMaking | PreviewError | None]:
    """The package's stills, begun; why they cannot be made, where there is no renderer; None where none are wanted.

    Raises PreviewError for a [[picture]] of the scene that cannot be taken.
    """
    if client is None or client.quality is None:
        yield None
        return
    stills = telling(stills_of(scene, every), PACKAGE)
    with ExitStack() as stack:
        try:
            begun: StillsInTheMaking | PreviewError = stack.enter_context(making(every, stills, SIZE, client.quality))
        except PreviewError as error:
            begun = error
        yield begun


def with_drawings(report: Report, stage: Stage, progress: Progress) -> Report:
    """The report with the line drawings of the scene as drawn."""
    progress("line drawings", 0, 1)
    drawings = drawings_of(report.built)
    names = [f"{DRAWINGS}/{name}" for name in file_names([each.key for each in drawings], ".svg")]
    write_files((stage.folder / name, drawing_svg(each)) for name, each in zip(names, drawings, strict=True))
    told = [ShownFile(name, each.name, each.words, each.scale) for name, each in zip(names, drawings, strict=True)]
    return replace(report, drawings=told)


def with_package(
    report: Report,
    scene: Scene,
    stage: Stage,
    client: Client,
    brand: Brand,
    stills: StillsInTheMaking | PreviewError | None,
    progress: Progress,
) -> Report:
    """The report with the stills written, the page and the sheet made, and what was left out of that."""
    made, why = made_stills(stills, progress)
    left_out = list(report.left_out)
    if why:
        left_out.append(LeftOut("the pictures (plans stand in their place)", why))
    names = [f"{FOLDER}/{name}" for name in file_names([each.still.key for each in made], ".png")]
    write_files((stage.folder / name, each.image) for name, each in zip(names, made, strict=True))
    pictures = [ShownFile(name, each.still.name, each.still.words) for name, each in zip(names, made, strict=True)]
    progress("writing the page", 0, 1)
    stem = stem_of(scene)
    variants = shown(report, scene)
    still = next((as_poster(each.image) for each in made if len(each.still.frames) == 1), None)
    write_file(stage.folder / f"{stem}.html", page_html(scene, variants, still))
    progress("writing the sheet", 0, 1)
    sheet = f"{stem}.pdf"
    write_file(stage.folder / sheet, sheet_pdf(sheet_job(scene, variants, made, client, brand)))
    return replace(report, left_out=left_out, pictures=pictures, sheet=sheet, quality=client.quality if made else None)


def made_stills(stills: StillsInTheMaking | PreviewError | None, progress: Progress) -> tuple[list[MadeStill], str]:
    """The stills that were made, or none and why."""
    if stills is None:
        return [], ""
    try:
        if isinstance(stills, PreviewError):
            raise stills
        return stills.made(progress), ""
    except PreviewError as error:
        return [], "; ".join(f"{each.problem} ({each.fix})" for each in error.problems)


def sheet_job(
    scene: Scene, variants: Sequence[Shown], made: Sequence[MadeStill], client: Client, brand: Brand
) -> SheetJob:
    """What the sheet is made from."""
    photos = {each.still: Photo(each.still.name, each.still.words, as_photo(each.image), each.size) for each in made}
    beside = next((still for still in photos if len(still.frames) > 1), None)
    return SheetJob(
        scene,
        variants,
        [photo for still, photo in photos.items() if still != beside],
        brand,
        paper_of(scene, client),
        (client.made or date.today()).isoformat(),
        rough=client.quality == "quick",
        beside=photos[beside] if beside else None,
        beside_numbers=tuple(frame.variant for frame in beside.frames) if beside else (),
        taken=", ".join(client.taken),
    )


def paper_of(scene: Scene, client: Client) -> PaperName:
    """The paper asked for, else the scene's."""
    return client.paper or scene.paper


def brand_of(scene: Scene, asked: Path | None) -> Brand:
    """The brand asked for, else the scene's, else none in particular. Raises PreviewError as `load_brand` does."""
    path = asked or scene.job.brand
    return load_brand(path) if path else NEUTRAL
