"""No version that constraints.txt pins has a vulnerability on record. On request, where pip-audit is installed (on PATH
or beside this Python) and its data can be reached:

    pytest tests/long/test_audit.py
    MOLDING_AUDIT_TESTS=required pytest tests/long/test_audit.py  # fails where it cannot be told

What is skipped by pip-audit was not audited: where that is everything, its data cannot be reached; where it is a part,
the test fails.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

import pytest

LOCK = Path(__file__).parents[2] / "constraints.txt"
LOOKED_FOR = os.pathsep.join([str(Path(sys.executable).parent), os.environ.get("PATH", "")])


def untold(reason: str) -> NoReturn:
    if os.environ.get("MOLDING_AUDIT_TESTS") == "required":
        pytest.fail(reason)
    pytest.skip(reason)


def judge(printed: str, complaint: str, cannot_tell: Callable[[str], NoReturn] = untold) -> None:
    """Fail for what pip-audit found (its JSON), or for what it left out; `cannot_tell` where it audited nothing."""
    try:
        found: list[dict[str, Any]] = json.loads(printed)["dependencies"]
    except (ValueError, KeyError):
        cannot_tell(f"pip-audit reached no data: {(complaint.strip() or 'it said nothing').splitlines()[-1]}")
    left_out = [f"{each['name']}: {each['skip_reason']}" for each in found if "skip_reason" in each]
    if len(left_out) == len(found):
        cannot_tell(f"pip-audit reached no data: it left out all {len(found)} packages, as {(left_out or ['none'])[0]}")
    bad = [
        f"{each['name']} {each['version']}: {flaw['id']}, mended in {', '.join(flaw['fix_versions']) or 'no version'}"
        for each in found
        for flaw in each.get("vulns", ())
    ]
    assert not bad, "\n".join(["vulnerabilities on record:", *bad])
    assert not left_out, "\n".join(["not audited:", *left_out])


def test_no_pinned_version_has_a_known_vulnerability() -> None:
    program = shutil.which("pip-audit", path=LOOKED_FOR)
    if program is None:
        untold("there is no pip-audit on PATH: pip install pip-audit, in an environment of its own")
    command = [program, "--disable-pip", "--require-hashes", "-r", str(LOCK), "--format", "json"]
    try:
        done = subprocess.run(
            [*command, "--progress-spinner", "off"], check=False, capture_output=True, text=True, timeout=600
        )
    except subprocess.TimeoutExpired:
        untold("pip-audit reached no data in ten minutes")
    judge(done.stdout, done.stderr)


SOUND = {"name": "sound", "version": "1.0", "vulns": []}
FLAWED = {"name": "flawed", "version": "1.0", "vulns": [{"id": "EXAMPLE-1", "fix_versions": ["1.1"]}]}
UNKNOWN = {"name": "unknown", "skip_reason": "not found"}


def refuse(reason: str) -> NoReturn:
    raise LookupError(reason)


def answer(*packages: dict[str, Any]) -> str:
    return json.dumps({"dependencies": packages, "fixes": []})


def test_a_clean_answer_passes() -> None:
    judge(answer(SOUND, SOUND), "", refuse)


def test_a_flaw_fails() -> None:
    with pytest.raises(AssertionError, match=r"flawed 1\.0: EXAMPLE-1, mended in 1\.1"):
        judge(answer(SOUND, FLAWED), "Found 1 known vulnerability", refuse)


def test_a_part_that_was_not_audited_fails() -> None:
    with pytest.raises(AssertionError, match=r"not audited:\s+unknown: not found"):
        judge(answer(SOUND, UNKNOWN), "", refuse)


@pytest.mark.parametrize("printed", [answer(UNKNOWN, UNKNOWN), answer(), "", "{}"])
def test_nothing_audited_is_no_pass(printed: str) -> None:
    with pytest.raises(LookupError, match="reached no data"):
        judge(printed, "No known vulnerabilities found", refuse)
