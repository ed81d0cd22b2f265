"""`molding approve` and `molding compare`, and what `molding check` says afterwards, as a shop would use them."""

from __future__ import annotations

import base64
import gzip
import json
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from preview import __version__
from preview.approval import records, records_path, short_code
from preview.build import build
from preview.cli.app import app
from preview.cli.approving import approve, compare_command
from preview.errors import PreviewError
from preview.jobs import approval_lines, approval_values
from preview.scene import every_variant, load_scene

ROOT = Path(__file__).parents[2]
SCENE = """\
title = "A corner to approve"
units = "in"
[profile.base]
library = "cove-and-bead-base"
[finish.oak]
color = "#b98d5a"
[member.base]
profile = "base"
[[run]]
name = "wall"
room = "right"
steps = [{ straight = 14 }, { curve_left = 90, radius = 2 }, { straight = 20 }]
[[option]]
name = "mitered"
changes = [{ run = "wall", curves = "miter" }]
"""
Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def molding(tmp_path: Path) -> Run:
    (tmp_path / "corner.toml").write_text(SCENE, "utf-8")

    def run(*arguments: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-c", "from preview.cli import main; main()", *map(str, arguments)]
        result = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, check=False, timeout=300)
        assert "Traceback" not in result.stderr
        return result

    return run


def report(molding: Run) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(molding("check", "corner.toml", "--json").stdout)
    return found


def answered(folder: Path, option: dict[str, Any], **other: object) -> Path:
    """An answer file as the page saves it."""
    answer = {
        "schema": 1,
        "kind": "molding answer",
        "title": "A corner to approve",
        "file": "corner.toml",
        "digest": option["digest"],
        "code": option["code"],
        "picks": option["picks"],
        "answer": "yes",
        "client": "Jo Ash",
        "remarks": "",
        "finishes": {},
        "answered": "2026-11-25",
    }
    path = folder / "corner-answer.json"
    path.write_text(json.dumps({**answer, **other}), "utf-8")
    return path


def test_an_answer_is_recorded_and_then_watched_over(molding: Run, tmp_path: Path) -> None:
    (option,) = report(molding)["options"]
    done = molding("approve", "corner.toml", answered(tmp_path, option))
    assert (done.returncode, done.stderr) == (0, "")
    for said in ("an approval", "Jo Ash", "2026-11-25", "option  mitered", option["code"], "no legal force"):
        assert said in done.stdout
    (record,) = report(molding)["approvals"]
    assert (record["approved"], record["client"], record["digest"]) == (True, "Jo Ash", option["digest"])
    assert (record["unchanged"], record["changes"]) == (True, [])
    assert "unchanged since" in molding("check", "corner.toml").stdout

    (tmp_path / "corner.toml").write_text(SCENE.replace("straight = 20", "straight = 24"), "utf-8")
    (record,) = report(molding)["approvals"]
    assert record["unchanged"] is False
    assert record["changes"] == ['Of the 2 straights of wall, the 2nd from the left is 4" longer (22" to 26")']
    checked = molding("check", "corner.toml")
    assert "approved 2026-11-25 by Jo Ash" in checked.stdout
    assert "changed since" in checked.stdout
    assert checked.returncode == 0  # every check holds: it is a note to the shop, not a fault of the model

    compared = molding("compare", "corner.toml", "--approved", "--out", "drawn")
    assert compared.returncode == 0
    assert record["changes"][0] in compared.stdout
    assert ET.parse(tmp_path / "drawn" / "overlay.svg").getroot().tag == "{http://www.w3.org/2000/svg}svg"

    (tmp_path / "corner.toml").write_text(SCENE, "utf-8")  # put back: it is the approved one again
    assert report(molding)["approvals"][0]["unchanged"] is True


def test_a_code_serves_for_an_answer(molding: Run) -> None:
    code = report(molding)["code"]
    done = molding("approve", "corner.toml", "--code", code.lower().replace("-", " "), "--name", "Sam Lee")
    assert done.returncode == 0, done.stderr
    assert "Sam Lee" in done.stdout
    assert report(molding)["approvals"][0]["code"] == code


@pytest.mark.parametrize("other", [{"answer": "changes", "remarks": "a bit taller"}, {"finishes": {"base": "oak"}}])
def test_what_asks_for_something_else_is_a_request(other: dict[str, object], molding: Run, tmp_path: Path) -> None:
    (option,) = report(molding)["options"]
    done = molding("approve", "corner.toml", answered(tmp_path, option, **other))
    assert done.returncode == 1
    assert "not an approval" in done.stdout
    (record,) = report(molding)["approvals"]
    assert (record["approved"], record["unchanged"]) == (False, None)


def test_an_answer_for_another_model_is_refused_and_nothing_written(molding: Run, tmp_path: Path) -> None:
    (option,) = report(molding)["options"]
    answer = answered(tmp_path, option)
    (tmp_path / "corner.toml").write_text(SCENE.replace("straight = 20", "straight = 24"), "utf-8")
    now = report(molding)
    refused = molding("approve", "corner.toml", answer)
    assert (refused.returncode, refused.stdout) == (2, "")
    for said in (
        option["digest"][:12],
        option["code"],
        "the scene has changed",
        now["code"],
        now["options"][0]["code"],
    ):
        assert said in refused.stderr
    assert not (tmp_path / "corner.approvals.json").exists()


ASK_AGAIN = (
    "make the client's page again with molding build, and ask again; or put the scene back as it was when that page "
    "was made"
)
CODE_FIX = "a code has the digits and all letters but I, L, O and U, such as 7KQ4-XM2A; ask for it again"
WRONG = {
    "no answer": (
        ["approve", "corner.toml"],
        "approve\n  neither an answer file nor a code was given\n  fix: give the answer file, or --code with --name\n",
    ),
    "both": (
        ["approve", "corner.toml", "a.json", "--code", "1111-1111"],
        "approve\n  both an answer file and a code were given\n  fix: give the answer file, or --code with --name\n",
    ),
    "a name for a file": (
        ["approve", "corner.toml", "a.json", "--name", "Jo Ash"],
        "--name = Jo Ash\n  the answer file says itself who answered\n  fix: leave --name out\n",
    ),
    "a code mistyped": (
        ["approve", "corner.toml", "--code", "1111-1112", "--name", "x"],
        (
            "--code = 1111-1112\n"
            "  a character of this code is wrong, or two are swapped: its check character does not fit\n"
            "  fix: ask for the code again, character by character\n"
        ),
    ),
    "no code": (
        ["approve", "corner.toml", "--code", "ünder", "--name", "x"],
        f"--code = ünder\n  no code has the sign Ü\n  fix: {CODE_FIX}\n",
    ),
    "no such answer": (
        ["approve", "corner.toml", "a.json"],
        "a.json\n  there is no such file: an answer was expected\n  fix: check its name\n",
    ),
    "nobody's code": (
        ["approve", "corner.toml", "--code", "0000-0000"],
        '--name\n  an approval needs the name of whoever gave it\n  fix: write --name "First Last"\n',
    ),
    "a name in color": (
        ["approve", "corner.toml", "--code", "0000-0000", "--name", "Jo \x1b[31m"],
        (
            "--name = Jo [U+001B][31m\n  a name is one line of at most 120 letters, all of which print\n"
            "  fix: write first and last name\n"
        ),
    ),
    "no such scene": (
        ["approve", "corners.toml", "--code", "0000-0000", "--name", "x"],
        "corners.toml\n  there is no such scene file\n  fix: did you mean corner.toml?\n",
    ),
    "nothing to compare": (
        ["compare", "corner.toml"],
        "compare\n  there is nothing to compare with\n  fix: give two scene files, or one and --approved\n",
    ),
    "too much to compare": (
        ["compare", "corner.toml", "corner.toml", "--approved"],
        (
            "compare\n  one scene and --approved were given, and another scene too\n"
            "  fix: give two scene files, or one and --approved\n"
        ),
    ),
    "nothing approved": (
        ["compare", "corner.toml", "--approved"],
        (
            "corner.approvals.json: --approved\n  no version of this scene has been approved\n"
            "  fix: record one with molding approve corner.toml ANSWER\n"
        ),
    ),
    "an option of what was approved": (
        ["compare", "corner.toml", "--approved", "--option", "mitered"],
        (
            "--option = mitered\n  the approved version says itself which option it is\n"
            "  fix: leave --option out, or --approved\n"
        ),
    ),
    "no such option": (
        ["compare", "corner.toml", "corner.toml", "--option", "miterd"],
        'corner.toml: option = "miterd"\n  the scene has no option of that name\n  fix: did you mean "mitered"?\n',
    ),
    "one not there": (
        ["compare", "corner.toml", "corners.toml"],
        "corners.toml\n  there is no such scene file\n  fix: did you mean corner.toml?\n",
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_wrong_use_is_told_in_a_sentence(case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    arguments, message = WRONG[case]
    monkeypatch.chdir(tmp_path)
    Path("corner.toml").write_text(SCENE, "utf-8")
    refused = CliRunner().invoke(app, arguments)
    assert (refused.exit_code, refused.stdout, refused.stderr) == (2, "", message)
    assert [path.name for path in tmp_path.iterdir()] == ["corner.toml"]


# The same without a process for each: the work behind the verbs, in a folder of its own.


@pytest.fixture
def corner(tmp_path: Path) -> Path:
    """A scene with options, its profile in a folder beside its own, as the scenes that ship have it."""
    scene = tmp_path / "scenes" / "corner.toml"
    scene.parent.mkdir()
    (tmp_path / "profiles").mkdir()
    shutil.copy(ROOT / "profiles" / "cove-and-bead-base.toml", tmp_path / "profiles" / "base.toml")
    scene.write_text(SCENE.replace('library = "cove-and-bead-base"', 'file = "../profiles/base.toml"'), "utf-8")
    return scene


def mitered(scene: Path) -> dict[str, Any]:
    """The option as a report has it."""
    found = every_variant(load_scene(scene))[1].scene
    digest = build(found).digest
    return {"digest": digest, "code": short_code(digest), "picks": {"option": "mitered"}}


def refusal(scene: Path, file: Path) -> str:
    with pytest.raises(PreviewError) as caught:
        approve(scene, file, None, None)
    assert not records_path(scene).exists()
    return str(caught.value)


def test_an_answer_for_another_model_is_told_at_length(corner: Path) -> None:
    answer = answered(corner.parent, mitered(corner))
    was = mitered(corner)
    corner.write_text(corner.read_text("utf-8").replace("straight = 20", "straight = 24"), "utf-8")
    drawn, now = build(load_scene(corner)).digest, mitered(corner)
    assert refusal(corner, answer) == (
        f"{answer}\n"
        f"  it is for model {was['digest'][:12]} (code {was['code']}), which this scene does not make: the scene has "
        "changed since the page was made, or it is another scene; now it makes\n"
        f"    as drawn: model {drawn[:12]} (code {short_code(drawn)})\n"
        f"    mitered: model {now['digest'][:12]} (code {now['code']})\n"
        f"  fix: {ASK_AGAIN}"
    )


def test_an_answer_that_contradicts_itself_is_refused(corner: Path) -> None:
    answer = answered(corner.parent, mitered(corner), picks={"option": "as drawn"})
    assert refusal(corner, answer) == (
        f"{answer}\n"
        "  the answer names as drawn, and its model is that of mitered: one of the two was changed after the page was "
        f"made\n  fix: {ASK_AGAIN}"
    )


def test_an_option_may_get_another_name(corner: Path) -> None:
    """It is the model that was approved, whatever it is called now."""
    answer = answered(corner.parent, mitered(corner))
    corner.write_text(corner.read_text("utf-8").replace('name = "mitered"', 'name = "sharp corner"'), "utf-8")
    assert approve(corner, answer, None, None)
    (record,) = records(corner)
    assert (record.picks, record.answer.picks) == ((("option", "sharp corner"),), (("option", "mitered"),))
    corner.write_text(corner.read_text("utf-8").replace("sharp corner", "square corner"), "utf-8")
    (line,) = approval_lines(load_scene(corner))
    assert line.endswith("unchanged since")


def test_what_was_approved_can_be_built_again_with_its_profile(corner: Path) -> None:
    """The scene's profile lies in ../profiles, and only that is changed: the record has a copy of its own."""
    assert approve(corner, answered(corner.parent, mitered(corner)), None, None)
    (record,) = records(corner)
    assert [file.path for file in record.files] == ["scenes/corner.toml", "profiles/base.toml"]
    shutil.copy(ROOT / "profiles" / "ogee-base.toml", corner.parent.parent / "profiles" / "base.toml")
    (value,) = approval_values(load_scene(corner))
    assert value["changes"] == [
        (
            'base: profile Ogee base (was Cove and bead base), 5 1/4" high (was 4") and 3/4" deep (was 1 1/4"); '
            'the outline moves by up to 1 1/4"'
        )
    ]


def test_the_program_s_own_library_is_not_copied(corner: Path) -> None:
    corner.write_text(SCENE, "utf-8")
    assert approve(corner, answered(corner.parent, mitered(corner)), None, None)
    (record,) = records(corner)
    assert [file.path for file in record.files] == ["corner.toml"]


def test_a_version_that_comes_out_otherwise_is_not_passed_off(corner: Path) -> None:
    """As after an update of the library: here the copy in the record is another scene's."""
    assert approve(corner, answered(corner.parent, mitered(corner)), None, None)
    document = json.loads(records_path(corner).read_text("utf-8"))
    text = corner.read_text("utf-8").replace("straight = 14", "straight = 15")
    document["records"][0]["files"][0]["gzip"] = base64.b64encode(gzip.compress(text.encode())).decode()
    records_path(corner).write_text(json.dumps(document), "utf-8")
    assert approval_lines(load_scene(corner))[0].endswith("; unchanged since")
    corner.write_text(corner.read_text("utf-8").replace("straight = 20", "straight = 24"), "utf-8")
    head, line = approval_lines(load_scene(corner))
    assert head.endswith("; changed since:")
    assert line.startswith(
        f"  what changed cannot be told: the approved version was made by molding-preview {__version__}"
    )
    with pytest.raises(PreviewError, match="built again from its own files it comes out otherwise"):
        compare_command(corner, None, approved=True)


def test_requests_after_an_approval_are_told_and_earlier_ones_are_not(corner: Path) -> None:
    option = mitered(corner)
    for number, other in enumerate(
        [
            {"answer": "changes", "remarks": "too plain"},
            {},
            {"finishes": {"base": "oak"}, "client": "Sam Lee", "answered": "2026-11-26"},
        ]
    ):
        assert approve(corner, answered(corner.parent, option, **other), None, None) is (number == 1)
    assert approval_lines(load_scene(corner)) == [
        f"approved 2026-11-25 by Jo Ash: mitered (code {option['code']}); unchanged since",
        "2026-11-26: Sam Lee asked for changes: mitered (base in oak)",
    ]
    assert [value["approved"] for value in approval_values(load_scene(corner))] == [True, False]
    assert len(records(corner)) == 3


def test_what_the_client_wrote_cannot_reach_the_terminal(corner: Path, capsys: pytest.CaptureFixture[str]) -> None:
    remarks = "\x1b[2J\x1b]0;gone\x07 nice \u202e one\nand two"
    assert approve(corner, answered(corner.parent, mitered(corner), remarks=remarks), None, None)
    said = capsys.readouterr().out
    assert "  remarks [U+001B][2J[U+001B]]0;gone[U+0007] nice [U+202E] one and two\n" in said
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", said)
    assert records(corner)[0].answer.remarks == remarks


def test_what_is_said_of_an_approval(corner: Path, capsys: pytest.CaptureFixture[str]) -> None:
    option = mitered(corner)
    for first in ("recorded", "already on record"):
        assert approve(corner, answered(corner.parent, option), None, None)
        assert capsys.readouterr().out == (
            f"{first}: an approval\n  who     Jo Ash\n  when    2026-11-25 (recorded {records(corner)[0].recorded})\n"
            f"  option  mitered\n  model   {option['digest'][:12]}, code {option['code']}\n"
            f"  in      {records_path(corner)}\n"
            "This is a record of what was answered. It is not a signature, and has no legal force by itself.\n"
        )
    assert len(records(corner)) == 1


def test_options_that_are_one_model_are_told_by_their_names(corner: Path) -> None:
    """What stands around is no part of the model: an answer says which was meant, a code cannot."""
    text = corner.read_text("utf-8").replace('name = "mitered"', 'name = "high shelf"')
    text = text.replace('{ run = "wall", curves = "miter" }', '{ surrounding = "shelf", top = 40 }')
    corner.write_text(text + '[[surrounding]]\nname = "shelf"\nkind = "box"\nat = [0, 9]\nsize = [9, 9]\ntop = 30\n')
    option = mitered(corner) | {"picks": {"option": "high shelf"}}
    assert approve(corner, answered(corner.parent, option), None, None)
    assert approve(corner, None, option["code"], "Sam Lee")
    first, second = records(corner)
    assert (first.picks, second.picks) == ((("option", "high shelf"),), (("option", "as drawn"),))
    assert second.answer.remarks == "Given by its code, without an answer file. The same model as high shelf."


def test_two_scenes_are_compared_in_words(molding: Run, tmp_path: Path) -> None:
    (tmp_path / "other.toml").write_text(SCENE.replace("cove-and-bead-base", "ogee-base"), "utf-8")
    compared = molding("compare", "corner.toml", "other.toml")
    assert compared.returncode == 0
    assert 'profile Ogee base (was Cove and bead base), 5 1/4" high (was 4")' in compared.stdout
    same = molding("compare", "corner.toml", "corner.toml")
    assert (same.returncode, "Nothing that a client sees" in same.stdout) == (0, True)
    option = molding("compare", "corner.toml", "other.toml", "--option", "mitered")
    assert option.returncode == 0


def test_a_damaged_record_is_told_and_kept(molding: Run, tmp_path: Path) -> None:
    (tmp_path / "corner.approvals.json").write_text("{", "utf-8")
    for arguments in (["check", "corner.toml"], ["approve", "corner.toml", "--code", "0000-0000", "--name", "x"]):
        refused = molding(*arguments)
        assert refused.returncode == 2
        assert "corner.approvals.json" in refused.stderr
    assert (tmp_path / "corner.approvals.json").read_text("utf-8") == "{"
