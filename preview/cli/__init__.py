"""The command `molding`, which says so where it cannot even be loaded, or is stopped while it is."""

from __future__ import annotations

import sys

from preview.cli import packages, stopping


def main() -> None:
    """Run the command."""
    try:
        try:
            from preview.cli.app import main as run
        except (ImportError, OSError) as error:
            package = packages.at_fault(error)
            if package is None:
                raise
            sys.stderr.write(f"{package}\n")
            raise SystemExit(2) from None
        run()
    except KeyboardInterrupt as stop:  # before the command listens itself
        code, said = stopping.how(stop)
        sys.stderr.write(f"{said}\n")
        raise SystemExit(code) from None


__all__ = ["main"]
