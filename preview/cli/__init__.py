"""The command `molding`, which says so where it cannot even be loaded, or is stopped while it is."""

from __future__ import annotations

import sys

from preview.cli import packages


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
    except KeyboardInterrupt:  # before the command listens itself
        sys.stderr.write("stopped; nothing is half-written\n")
        raise SystemExit(130) from None


__all__ = ["main"]
