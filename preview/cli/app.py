"""The verbs of `molding`, and how it ends: 0 all holds, 1 a check failed, 2 something written wrong."""

from __future__ import annotations

import functools
import io
import shlex
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ParamSpec

import typer

import preview
from preview.cli import packages, stopping
from preview.cli.approving import approve_command, compare_command
from preview.cli.loading import load
from preview.cli.profile import profile_command
from preview.cli.visible import visible
from preview.errors import PreviewError

if TYPE_CHECKING:
    from preview.jobs import Wanted

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
    """Let a verb end with one message: 2 for a mistake in what was written, 128 + the signal when stopped."""

    @functools.wraps(verb)
    def ending(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            with stopping.listening():
                verb(*args, **kwargs)
        except PreviewError as error:
            typer.echo(str(error), err=True)
            raise typer.Exit(2) from None
        except KeyboardInterrupt as stop:
            code, said = stopping.how(stop)
            with suppress(OSError):  # the terminal may be gone
                typer.echo(said, err=True)
            raise typer.Exit(code) from None
        except BrokenPipeError:
            raise
        except (ImportError, OSError) as error:
            package = packages.at_fault(error)
            if package is not None:
                typer.echo(str(package), err=True)
                raise typer.Exit(2) from None
            if not isinstance(error, OSError):
                raise
            # what a lower room did not expect of a disk
            name = str(error.filename) if error.filename else None
            fix = "check the name, and whether the disk is there and has room"
            told = PreviewError("", None, f"the system refused it: {error.strerror or error}", fix, name)
            typer.echo(str(told), err=True)
            raise typer.Exit(2) from None

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
Options = Annotated[
    list[str] | None,
    typer.Option(
        "--option",
        metavar="NAME",
        help="Take this alternative of the scene for the scene itself; say it again for another choice. Where two "
        "choices have an alternative of one name, write CHOICE=NAME.",
        show_default=False,
    ),
]
NoSolid = Annotated[
    bool,
    typer.Option("--no-solid", help="Leave out the solids (STEP and the proof by a CAD kernel): quicker."),
]


Quick = Annotated[
    bool, typer.Option("--quick", help="Rough pictures, in a fraction of the time: for a look, not for the client.")
]
NoPictures = Annotated[bool, typer.Option("--no-pictures", help="Leave out the pictures (plans stand for them).")]
BrandFile = Annotated[
    Path | None,
    typer.Option(
        "--brand",
        metavar="FILE",
        help="The shop's name, logo and colors for the sheet (.toml). The scene's own by default.",
        show_default=False,
    ),
]


PaperSize = Annotated[
    str | None,
    typer.Option(
        "--paper",
        metavar="letter|tabloid|a4|a3",
        help="What the sheet is laid out for. The scene's own by default, else letter for inches and a4 for meters.",
        show_default=False,
    ),
]


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
            metavar="FILE",
            help="A scene (.toml), or any model (.stl, .glb, .step, .stp). Of .gltf, .3mf, .usdz, .obj, .ply and .dxf "
            "files that molding wrote: which model they are.",
            show_default=False,
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
    option: Options = None,
    chord: Chord = None,
    scene: Annotated[
        Path | None,
        typer.Option(
            "--scene",
            metavar="SCENE",
            help="For a model: also say whether this scene, or which option of it, makes this very model.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Check a scene, or a model from anywhere: measure every body and every joint, and print what was found.

    A scene is built first. In a model (STL, GLB or STEP) the ends that meet are found from its triangles alone.
    A file that molding wrote (also glTF, 3MF, USDZ, OBJ, PLY or DXF) says which model it is. Writes nothing.
    """
    from preview import jobs
    from preview.cli import model, show

    if model.is_model(file) and saw:
        raise PreviewError("--saw", None, "a model says nothing of how it is cut", "give the scene, or leave --saw out")
    if model.is_model(file) and option:
        raise PreviewError("--option", None, "a model has no options", "give the scene, or leave --option out")
    if model.is_model(file):
        raise typer.Exit(0 if model.check_model(file, as_json, solid=solid, chord=chord, scene=scene) else 1)
    if scene is not None:
        raise PreviewError("--scene", str(scene), "this option is for a model, and a scene is given", "leave it out")
    with show.Progress() as progress:
        outcome = jobs.check_scene(load(file, chord, option or ()), solids=solid, progress=progress.step)
    show.report(outcome, as_json, saw)
    raise typer.Exit(0 if outcome.report.holds else 1)


@app.command()
@_ending_well
def build(
    scene: SceneFile,
    out: OutFolder,
    no_solid: NoSolid = False,
    quick: Quick = False,
    no_pictures: NoPictures = False,
    paper: PaperSize = None,
    brand: BrandFile = None,
    option: Options = None,
    chord: Chord = None,
) -> None:
    """Build everything for a scene into a folder: models (GLB, STL, STEP), pictures, line drawings, the client's page,
    the sheet to sign, and report.json; all checked.

    All options of the scene are built, checked and shown in the page.
    """
    from preview import jobs
    from preview.jobs import client_of

    formats = ("glb", "stl") if no_solid else jobs.USUAL
    client = client_of(quick, no_pictures, paper, brand, option)
    _build(scene, out, chord, option, jobs.Wanted(formats, pieces=True, solids=not no_solid, whole=True, client=client))


@app.command()
@_ending_well
def export(
    scene: SceneFile,
    out: OutFolder,
    format_: Annotated[
        list[str],
        typer.Option(
            "--format",
            "-f",
            metavar="NAME",
            help="A format to write: glb, stl, step, gltf, compact, levels, usdz, 3mf, obj, ply or dxf, or one that an "
            "installed package adds. Say it again for more.",
            show_default=False,
        ),
    ],
    pieces: Annotated[bool, typer.Option("--pieces", help="With stl: one file for each piece as well.")] = False,
    option: Options = None,
    chord: Chord = None,
) -> None:
    """Export chosen model formats, checked as by `build`."""
    from preview import jobs
    from preview.exports import formats_named

    chosen = formats_named(format_, "--format")
    if pieces and "stl" not in chosen:
        problem = "each piece by itself is written as STL, and stl is not among the formats asked for"
        raise PreviewError("--pieces", None, problem, "add --format stl, or leave --pieces out")
    _build(scene, out, chord, option, jobs.Wanted(chosen, pieces=pieces, solids="step" in chosen))


def _build(scene: Path, out: Path, chord: str | None, option: list[str] | None, wanted: Wanted) -> None:
    from preview import jobs
    from preview.cli import show

    with show.Progress() as progress:
        outcome = jobs.build_scene(load(scene, chord, option or ()), out, wanted, progress.step)
    show.report(outcome)
    raise typer.Exit(0 if outcome.report.holds else 1)


@app.command()
@_ending_well
def picture(
    scene: SceneFile,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            metavar="FILE",
            help="The picture to write (.png), or a folder for several.",
            show_default=False,
        ),
    ] = None,
    view: Annotated[
        list[str] | None,
        typer.Option(
            "--view",
            metavar="NAME",
            help="Which view; say it again for more; --list names them. By default the most telling one, or four in a "
            "folder.",
            show_default=False,
        ),
    ] = None,
    every_view: Annotated[bool, typer.Option("--all", help="All views there are, in a folder.")] = False,
    list_views: Annotated[bool, typer.Option("--list", help="Only print what views there are.")] = False,
    size: Annotated[
        str, typer.Option("--size", metavar="WIDTHxHEIGHT", help="How large the pictures are, in pixels.")
    ] = "1600x1000",
    quick: Quick = False,
    option: Options = None,
) -> None:
    """Make still pictures of a scene: the whole, each corner from near by (at two heights where they differ),
    ends, options side by side.

    Every camera is chosen from the geometry, or given in the scene as a picture of its own.
    """
    from preview.cli import client_verbs

    loaded = load(scene, None, option or ())
    if list_views:
        client_verbs.list_stills(loaded)
    else:
        client_verbs.write_stills(loaded, out, view or (), every_view=every_view, size=size, quick=quick)


@app.command()
@_ending_well
def sheet(
    scene: SceneFile,
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="FILE", help="The sheet to write (.pdf).", show_default=False)
    ],
    quick: Quick = False,
    no_pictures: NoPictures = False,
    paper: PaperSize = None,
    brand: BrandFile = None,
    option: Options = None,
) -> None:
    """Make the sheet that a client signs: pictures, plan, profiles at full size, options, sizes and joint checks (PDF).

    The scene is built and checked first; what does not hold stands on the sheet.
    """
    from preview.cli.client_verbs import write_sheet
    from preview.jobs import client_of

    holds = write_sheet(load(scene, None, option or ()), out, client_of(quick, no_pictures, paper, brand, option))
    raise typer.Exit(0 if holds else 1)


@app.command()
@_ending_well
def shop(
    scene: SceneFile,
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where the papers go.", show_default=False)
    ],
    paper: PaperSize = None,
    brand: BrandFile = None,
    option: Options = None,
) -> None:
    """Make what the bench needs: cut list, stock layout, blanks for curves, templates at full size, site sheet.

    The scene is built and checked first. Papers are PDF, the list is CSV too, templates are PDF and DXF.
    """
    from preview.cli.shop import write_shop
    from preview.jobs import client_of

    holds = write_shop(load(scene, None, option or ()), out, client_of(False, True, paper, brand, option))
    raise typer.Exit(0 if holds else 1)


@app.command()
@_ending_well
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The scene file to make (.toml).", show_default=False)],
) -> None:
    """Write a commented starter scene to begin from. Never replaces a file."""
    from preview import jobs

    jobs.new_scene(file)
    typer.echo(visible(f"wrote {file}; next: molding check {shlex.quote(str(file))}"))


@app.command("show")
@_ending_well
def show_page(
    scene: SceneFile,
    port: Annotated[
        int, typer.Option("--port", metavar="NUMBER", help="Where to listen, from 1024; 0: wherever there is room.")
    ] = 0,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the address.")] = False,
) -> None:
    """Show a scene in the browser, on this machine: it can be turned and edited there, and follows every save.

    The page shows what is wrong while a file holds a mistake, and keeps the last good model. Ctrl-C ends it.
    """
    from preview.cli import serving

    serving.show_scene(scene, port=port, browser=not no_browser)


app.command("profile")(_ending_well(profile_command))
app.command("approve")(_ending_well(approve_command))
app.command("compare")(_ending_well(compare_command))


def main() -> None:
    """Run the command."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a terminal or a pipe of another encoding than UTF-8 lacks signs
    app()
