"""The verbs of `molding`, and how it ends: 0 all holds, 1 a check failed, 2 something written wrong."""

from __future__ import annotations

import functools
import shlex
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ParamSpec

import typer

import preview
from preview.cli.profile import profile_command
from preview.errors import PreviewError

if TYPE_CHECKING:
    from preview.cli.job import Wanted

app = typer.Typer(
    name="molding",
    help="Build, check and export a 3D preview of molding: straight, mitered and curved pieces of one profile, "
    "laid along a measured plan.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

P = ParamSpec("P")


def _ending_well(verb: Callable[P, None]) -> Callable[P, None]:
    """Let a verb end with one message: 2 for a mistake in what was written, 130 when stopped from the keyboard."""

    @functools.wraps(verb)
    def ending(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            verb(*args, **kwargs)
        except PreviewError as error:
            typer.echo(str(error), err=True)
            raise typer.Exit(2) from None
        except KeyboardInterrupt:
            typer.echo("stopped; nothing was written", err=True)
            raise typer.Exit(130) from None

    return ending


SceneFile = Annotated[Path, typer.Argument(metavar="SCENE", help="The scene file (.toml).", show_default=False)]
OutFolder = Annotated[
    Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where to write; made if it is not there.")
]
Chord = Annotated[
    str | None,
    typer.Option(
        "--chord",
        metavar="LENGTH",
        help="How far a facet may stray from the true curve, such as 0.1 (mm) or 0.005\". The scene's own by default.",
        show_default=False,
    ),
]
NoSolid = Annotated[
    bool,
    typer.Option("--no-solid", help="Leave out the solids (STEP and the proof by a CAD kernel): quicker."),
]


class Format(StrEnum):
    """The model formats that can be asked for."""

    glb = "glb"
    stl = "stl"
    step = "step"


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"molding-preview {preview.__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version and stop.")
    ] = False,
) -> None:
    pass


@app.command()
@_ending_well
def check(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="A scene (.toml), or any model (.stl, .glb, .step, .stp).", show_default=False
        ),
    ],
    as_json: Annotated[bool, typer.Option("--json", help="Print the report as JSON, and nothing else.")] = False,
    solid: Annotated[
        bool,
        typer.Option("--solid", help="For a scene: also build exact solids and compare them (takes some seconds)."),
    ] = False,
    saw: Annotated[
        bool, typer.Option("--saw", help="For a scene: also say how to set the saw for every end, in words.")
    ] = False,
    chord: Chord = None,
) -> None:
    """Check a scene, or a model from anywhere: measure every body and every joint, and print what was found.

    A scene is built first. In a model (STL, GLB or STEP) the ends that meet are found from its triangles alone.
    Writes nothing.
    """
    from preview.cli import job, model, show

    if model.is_model(file) and saw:
        raise PreviewError("--saw", None, "a model says nothing of how it is cut", "give the scene, or leave --saw out")
    if model.is_model(file):
        raise typer.Exit(0 if model.check_model(file, as_json, solid=solid, chord=chord) else 1)
    with show.Progress() as progress:
        outcome = job.check_scene(job.load(file, chord), solids=solid, progress=progress.step)
    show.report(outcome, as_json, saw)
    raise typer.Exit(0 if outcome.report.holds else 1)


@app.command()
@_ending_well
def build(
    scene: SceneFile,
    out: OutFolder,
    no_solid: NoSolid = False,
    chord: Chord = None,
) -> None:
    """Build everything for a scene into a folder: models (GLB, STL, STEP) and report.json, checked."""
    from preview.cli import job

    formats = ("glb", "stl") if no_solid else job.FORMATS
    _build(scene, out, chord, job.Wanted(formats, pieces=True, solids=not no_solid, whole=True))


@app.command()
@_ending_well
def export(
    scene: SceneFile,
    out: OutFolder,
    format_: Annotated[
        list[Format],
        typer.Option("--format", "-f", help="A format to write; say it again for more.", show_default=False),
    ],
    pieces: Annotated[bool, typer.Option("--pieces", help="With stl: one file for each piece as well.")] = False,
    chord: Chord = None,
) -> None:
    """Export chosen model formats, checked as by `build`."""
    from preview.cli import job

    chosen = tuple(dict.fromkeys(item.value for item in format_))
    _build(scene, out, chord, job.Wanted(chosen, pieces=pieces, solids="step" in chosen))


def _build(scene: Path, out: Path, chord: str | None, wanted: Wanted) -> None:
    from preview.cli import job, show

    with show.Progress() as progress:
        outcome = job.build_scene(job.load(scene, chord), out, wanted, progress.step)
    show.report(outcome)
    raise typer.Exit(0 if outcome.report.holds else 1)


@app.command()
@_ending_well
def picture(
    scene: SceneFile,
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="FILE", help="The picture to write (.png).", show_default=False)
    ],
    quick: Annotated[
        bool, typer.Option("--quick", help="A rough picture for a look, in a fraction of the time.")
    ] = False,
) -> None:
    """Make a still picture of a scene: the whole of it, lit so that the profile reads."""
    from preview.build import build as built
    from preview.cli import job, show
    from preview.client import render

    with show.Progress(gently=False) as progress:
        render(built(job.load(scene)), out, quality="quick" if quick else "final", progress=progress.step)
    typer.echo(f"wrote {out}")


@app.command()
@_ending_well
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The scene file to make (.toml).", show_default=False)],
) -> None:
    """Write a commented starter scene to begin from. Never replaces a file."""
    from preview.cli import job

    job.new_scene(file)
    typer.echo(f"wrote {file}; next: molding check {shlex.quote(str(file))}")


app.command("profile")(_ending_well(profile_command))


def main() -> None:
    """Run the command."""
    app()
