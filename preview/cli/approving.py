"""The verbs `approve` and `compare`: the client's answer put on record, and what changed since, in words and drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from preview.approval import (
    NOT_A_SIGNATURE,
    Answer,
    KeptFile,
    Record,
    add_record,
    harmless,
    keep,
    read_answer,
    read_code,
    records,
    records_path,
    short_code,
)
from preview.build import Built, build
from preview.changes import changed, overlay_svg
from preview.cli.visible import visible
from preview.errors import PreviewError
from preview.jobs import Picks, built_of, last_approval, now_of, picks_of, picks_text, rebuilt
from preview.review import build_every
from preview.scene import Scene, Variant, chosen, every_variant, load_scene
from preview.shipped import folder as shipped

LONGEST_NAME = 120
NOTHING = "Nothing that a client sees or a shop cuts has changed."
OVERLAY = "overlay.svg"
BY_CODE = "Given by its code, without an answer file."
DIGEST_SHOWN = 12


def approve_command(
    scene: Annotated[
        Path,
        typer.Argument(metavar="SCENE", help="The scene file (.toml) that the page was made from.", show_default=False),
    ],
    answer: Annotated[
        Path | None,
        typer.Argument(metavar="ANSWER", help="The answer file that the client's page saved.", show_default=False),
    ] = None,
    code: Annotated[
        str | None,
        typer.Option(
            "--code", metavar="CODE", help="In place of a file: the code that was read out, such as 7KQ4-XM2A."
        ),
    ] = None,
    name: Annotated[
        str | None, typer.Option("--name", metavar="NAME", help="With --code: who approved, first and last name.")
    ] = None,
) -> None:
    """Put a client's answer on record beside the scene, if it is for this very model.

    Every option of the scene is built, and the one is found that the answer was given for. An approval ends with 0; an
    answer that asks for changes, or for another finish, is recorded as a request and ends with 1; an answer for another
    model is refused.
    """
    raise typer.Exit(0 if approve(scene, answer, code, name) else 1)


def compare_command(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="The scene file as it was.", show_default=False)],
    new: Annotated[
        Path | None, typer.Argument(metavar="NEW", help="The scene file as it is now.", show_default=False)
    ] = None,
    approved: Annotated[
        bool, typer.Option("--approved", help="Compare the version that was approved last with the scene as it is now.")
    ] = False,
    option: Annotated[
        list[str] | None,
        typer.Option("--option", metavar="NAME", help="An option to compare; say it again for more choices."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FOLDER", help=f"Also draw both over each other, into FOLDER/{OVERLAY}."),
    ] = None,
) -> None:
    """Say what changed from one version of a scene to the next: in words, and drawn over each other."""
    if approved == (new is not None):
        raise PreviewError(
            "compare",
            None,
            "one scene and --approved were given, and another scene too"
            if approved
            else "there is nothing to compare with",
            "give two scene files, or one and --approved",
        )
    if new is not None:
        before, after = (build(chosen(load_scene(path), option or ())) for path in (old, new))
        said = f"{old} to {new}"
    else:
        if option:
            problem = "the approved version says itself which option it is"
            raise PreviewError("--option", ", ".join(option), problem, "leave --option out, or --approved")
        record = last_approval(old)
        before, after = rebuilt(record), now_of(load_scene(old), record)
        said = f"approved {record.answer.answered} by {harmless(record.answer.client)}, to {old} as it is now"
    typer.echo(f"{visible(said)}\n")
    for sentence in changed(before, after) or (NOTHING,):
        typer.echo(visible(sentence))
    if out is not None:
        from preview.exports import write_file

        write_file(out / OVERLAY, overlay_svg(before, after))
        typer.echo(f"\nwrote {visible(out / OVERLAY)}")


def approve(path: Path, file: Path | None, code: str | None, name: str | None) -> bool:
    """Record an answer, and say so. Returns whether it is an approval; raises PreviewError for what is none."""
    if (file is None) == (code is None):
        problem = "both an answer file and a code were given" if file else "neither an answer file nor a code was given"
        raise PreviewError("approve", None, problem, "give the answer file, or --code with --name")
    if file is not None and name is not None:
        raise PreviewError("--name", name, "the answer file says itself who answered", "leave --name out")
    scene = load_scene(path)
    records(path)  # a damaged record is told before anything is built
    variants = every_variant(scene)
    built = build_every(scene)
    if file is not None:
        answer = read_answer(file)
        found = _shown(scene, variants, built, answer, file)
    else:
        answer, found = _told_by_code(scene, variants, built, code or "", name)
    picks = picks_of(scene, variants[found])
    kept = _copies(path, _files(scene, variants), picks, answer.digest)
    record, new = add_record(path, answer, picks, kept)
    for line in _said(record, new, path):
        typer.echo(visible(line))
    return record.approves


# Which model an answer is for.


def _shown(scene: Scene, variants: Sequence[Variant], built: Sequence[Built], answer: Answer, file: Path) -> int:
    """The variant that the client was shown. Raises PreviewError when it is none of them."""
    mine = [k for k, each in enumerate(built) if each.digest == answer.digest]
    if not mine:
        raise _another_model(scene, variants, built, answer.code, answer.digest, file)
    known = {choice.name: {each.name for each in choice.alternatives} for choice in scene.choices}
    named = [pick for pick in answer.picks if pick[1] in known.get(pick[0], ())]
    fits = [k for k in mine if set(named) <= set(picks_of(scene, variants[k]))]
    if not fits:
        told = picks_text(answer.picks)
        problem = (
            f"the answer names {told}, and its model is that of {picks_text(picks_of(scene, variants[mine[0]]))}: "
            "one of the two was changed after the page was made"
        )
        raise PreviewError("", None, problem, _ASK_AGAIN, str(file))
    return fits[0]


def _told_by_code(
    scene: Scene, variants: Sequence[Variant], built: Sequence[Built], code: str, name: str | None
) -> tuple[Answer, int]:
    try:
        said = read_code(code)
    except PreviewError as error:
        raise error.at("--code") from None
    client = " ".join((name or "").split())
    if not client:
        raise PreviewError("--name", None, "an approval needs the name of whoever gave it", 'write --name "First Last"')
    if len(client) > LONGEST_NAME or harmless(client) != client:
        problem = f"a name is one line of at most {LONGEST_NAME} letters, all of which print"
        raise PreviewError("--name", harmless(client)[:40], problem, "write first and last name")
    fits = [k for k, each in enumerate(built) if short_code(each.digest) == said]
    if not fits:
        raise _another_model(scene, variants, built, said, "", None)
    found, *others = fits
    remarks = BY_CODE
    if others:  # options that only what stands around tells apart
        remarks += f" The same model as {'; '.join(picks_text(picks_of(scene, variants[k])) for k in others)}."
    picks = picks_of(scene, variants[found])
    today = date.today().isoformat()
    title, file = scene.title.strip(), harmless(scene.path.name)
    return Answer(built[found].digest, said, picks, "yes", client, remarks, (), today, title, file), found


_ASK_AGAIN = (
    "make the client's page again with molding build, and ask again; or put the scene back as it was when that page "
    "was made"
)


def _another_model(
    scene: Scene, variants: Sequence[Variant], built: Sequence[Built], code: str, digest: str, file: Path | None
) -> PreviewError:
    """The error for an answer that is for none of the scene's models."""
    model = f"model {digest[:DIGEST_SHOWN]} (code {code})" if digest else f"the model with the code {code}"
    rows = []
    for variant, each in zip(variants, built, strict=True):
        name = picks_text(picks_of(scene, variant)) or "the scene as drawn"
        rows.append(f"{name}: model {each.digest[:DIGEST_SHOWN]} (code {short_code(each.digest)})")
    said = f"it is for {model}, which this scene does not make:"
    why = "the scene has changed since the page was made, or it is another scene; now it makes"
    problem = "\n".join([f"{said} {why}", *(f"  {row}" for row in dict.fromkeys(rows))])
    return PreviewError(
        "" if file else "--code", None if file else code, problem, _ASK_AGAIN, str(file) if file else None
    )


# What a record keeps, and what it was of.


def _files(scene: Scene, variants: Sequence[Variant]) -> list[Path]:
    return list(dict.fromkeys([*scene.files, *(file for variant in variants for file in variant.scene.files)]))


def _copies(path: Path, files: Sequence[Path], picks: Picks, digest: str) -> tuple[KeptFile, ...]:
    """Copies of the files that make the same model again: without the program's own library, where that goes.

    Raises PreviewError where they do not make it: they are read anew, and may be others by now.
    """
    try:
        library = shipped("profiles").resolve()
    except FileNotFoundError:
        own = list(files)
    else:
        own = [file for file in files if library not in file.resolve().parents]
    for wanted in [own, list(files)] if len(own) < len(files) else [own]:
        kept = keep(path, wanted)
        try:
            if built_of(kept, picks).digest == digest:
                return kept
        except PreviewError:
            pass
    problem = (
        "the copies of its files that were to be kept do not make the model that the answer is for: "
        "a file was changed meanwhile, or one is found only from where it lies"
    )
    fix = "do this again; nothing was recorded. Files that the scene names are best kept beside it or below"
    raise PreviewError("", None, problem, fix, str(path))


# Words.


def _said(record: Record, new: bool, path: Path) -> Iterator[str]:
    answer = record.answer
    client = harmless(answer.client)
    what = "an approval" if record.approves else "a request for changes"
    yield f"{'recorded' if new else 'already on record'}: {what}"
    yield f"  who     {client}"
    yield f"  when    {answer.answered} (recorded {record.recorded})"
    if record.picks:
        yield f"  option  {picks_text(record.picks)}"
    yield f"  model   {answer.digest[:DIGEST_SHOWN]}, code {answer.code}"
    for member, finish in answer.finishes:
        yield f"  wish    {harmless(member)} in {harmless(finish)}"
    if answer.remarks:
        yield f"  remarks {harmless(answer.remarks)}"
    yield f"  in      {records_path(path)}"
    if not record.approves:
        yield "This is not an approval: change the scene, make the page again, and ask again."
    yield NOT_A_SIGNATURE
