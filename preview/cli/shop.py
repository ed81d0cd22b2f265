"""The verb `shop`: what the bench needs, from the model that was approved."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from preview.bench import SHOP, shop_files, shop_json, stick_text
from preview.cli import show
from preview.cutlist import shop_job
from preview.drafting import piece_tags
from preview.exports import refuse_other_scene, staged, write_file, write_files
from preview.jobs import Client, approval_lines, brand_of, paper_of
from preview.review import checked, every_shown
from preview.scene import Scene
from preview.units import counted, listed

NOT_APPROVED = "No approval of this model is on record: ask for one before wood is cut for a client."
FAILS = "A check of this model fails: see molding check. Do not cut from these papers."


def write_shop(scene: Scene, out: Path, client: Client) -> bool:
    """Build and check a scene and write what the bench needs into a folder; whether all holds.

    Raises PreviewError, and then writes nothing, as `shop_job` does, and where the folder cannot be written to.
    """
    refuse_other_scene(out, scene.path.name, SHOP)
    brand = brand_of(scene, client.brand)
    shown = every_shown(scene)
    built = shown[0].built
    job = shop_job(built)
    made = (client.made or date.today()).isoformat()
    paper = paper_of(scene, client)
    with show.Progress(gently=False) as progress, staged(out, SHOP) as stage:
        first = checked(shown[0], progress.step)
        approvals = approval_lines(scene, [each.built for each in shown])
        warnings = () if first.holds else (FAILS,)
        progress.step("papers and templates", 0, 1)
        files = shop_files(job, paper, brand=brand, made=made, notes=approvals or (NOT_APPROVED,), warnings=warnings)
        write_files((stage.folder / name, content) for name, content in files)
        holds = bool(first.holds) and job.holds
        write_file(stage.folder / SHOP, shop_json(job, piece_tags(built), stage.files(), holds))
        published = stage.publish(scene.path.name, scene.title)
    output = show.output()
    for line in approvals or (NOT_APPROVED,):
        output.print(line, markup=False)
    for line in warnings:
        output.print(line, markup=False)
    for each in job.sticks:
        lengths = [laid.stick.length for laid in each.layout.used]
        told = listed(f"{lengths.count(mm)} of {stick_text(job, mm)}" for mm in dict.fromkeys(lengths))
        output.print(f"{each.member}: {told}", markup=False)
    for curve in job.curves:
        how = curve.way.name if curve.way is not None else curve.why
        output.print(f"{', '.join(curve.group.names)}: {how}", markup=False)
    removed = f", {counted(published.removed, 'old file')} removed" if published.removed else ""
    output.print(f"wrote {counted(len(published.files), 'file')} to {out}{removed}", markup=False)
    if published.other:
        output.print(f"note: {show.replaced(published.other)}", markup=False)
    return holds
