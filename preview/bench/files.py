"""The files that go to the bench: the papers, the list for a spreadsheet, and the templates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from preview.bench.templates import template_set
from preview.cutlist import ShopJob, csv_text
from preview.drafting import piece_tags
from preview.exports import stem_of
from preview.scene import NEUTRAL, Brand, PaperName


def shop_files(
    job: ShopJob,
    paper: PaperName,
    *,
    brand: Brand = NEUTRAL,
    made: str = "",
    notes: Sequence[str] = (),
    warnings: Sequence[str] = (),
) -> Iterator[tuple[str, bytes]]:
    """Each file's name below the output folder, and its bytes, one at a time: papers, list, templates.

    paper: what they are laid out for. made: the date of making as it is printed. notes, warnings: as `packet_pdf` has
    them.
    """
    from preview.bench.packet import packet_pdf

    built, tags = job.built, piece_tags(job.built)
    stem = stem_of(built.scene)
    longer = {each.piece: job.gains(each.piece) for each in job.longer}
    found = template_set(built, paper)
    papers = packet_pdf(
        job, tags, paper, brand=brand, made=made, notes=notes, warnings=warnings, templates=found.entries
    )
    yield f"{stem}-shop.pdf", papers
    yield f"{stem}-cut-list.csv", csv_text(job.cuts, job.shop.rounding, built.scene.units, longer).encode()
    yield from found.files
