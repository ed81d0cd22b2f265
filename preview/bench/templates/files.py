"""The files of a job's templates: a PDF and a DXF of each, one PDF of all, and the index at its front."""

from __future__ import annotations

from dataclasses import dataclass

from preview.bench.templates.dxf import template_dxf
from preview.bench.templates.gather import templates
from preview.bench.templates.index import TemplateEntry, index_pages
from preview.bench.templates.sheets import sheet_pages
from preview.build import Built
from preview.errors import PreviewError
from preview.exports import file_names
from preview.paper import Page, pdf_bytes
from preview.scene import PaperName

FOLDER = "templates/"
ALL = f"{FOLDER}all-templates.pdf"


@dataclass(frozen=True)
class TemplateSet:
    """The templates of a job as files: what each is called below the output folder, and its bytes."""

    entries: tuple[TemplateEntry, ...]
    files: tuple[tuple[str, bytes], ...]


def template_set(built: Built, paper: PaperName | None = None) -> TemplateSet:
    """Every template of a job, on paper and as DXF.

    paper: what the job asks for, else letter for a scene in inches and A4 for a metric one. The file of all begins
    with the index; a job without templates has that page alone. A template too large for paper is left to its DXF,
    and the index says so.
    """
    scene = built.scene
    unit = scene.units
    chosen: PaperName = paper or scene.paper
    found = templates(built)
    stems = file_names([f"{each.sign} {each.kind} {each.pieces[0]}" for each in found], "")
    entries: list[TemplateEntry] = []
    files: list[tuple[str, bytes]] = []
    pages: list[Page] = []
    for each, stem in zip(found, stems, strict=True):
        mine: tuple[Page, ...] = ()
        left_out = ""
        names: list[str] = []
        try:
            mine = sheet_pages(each, chosen, unit, scene.title)
        except PreviewError as error:
            left_out = "; ".join(f"{p.problem}: {p.fix}" for p in error.problems)
        if mine:
            names.append(f"{FOLDER}{stem}.pdf")
            files.append((names[-1], pdf_bytes(mine, each.title, "Full size; print at 100 %, without scaling")))
        names.append(f"{FOLDER}{stem}.dxf")
        files.append((names[-1], template_dxf(each, unit, scene.title)))
        entries.append(TemplateEntry(each, len(mine), tuple(names), left_out))
        pages += mine
    front = index_pages(entries, chosen, scene.title)
    whole = pdf_bytes([*front, *pages], f"{scene.title}: templates", "Full size; print at 100 %, without scaling")
    return TemplateSet(tuple(entries), ((ALL, whole), *files))
