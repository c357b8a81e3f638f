"""Plans the sample shop and shows it: ``python scripts/start.py``. Needs only Python; does all the set-up.

Makes ``.venv`` in the project folder and installs the project there (once), then checks, plans and
verifies the sample shop, prints a summary and serves the pages on this machine.
"""

from __future__ import annotations

import argparse
import sys

import environment


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Plan the sample shop and show it.")
    parser.add_argument("--seconds", type=float, default=20.0, help="how long to search (20 unless told)")
    parser.add_argument("--port", type=int, default=8021, help="where to serve (8021 unless told; 0: any free port)")
    parser.add_argument("--no-serve", action="store_true", help="end after the summary")
    chosen = parser.parse_args()
    if not chosen.seconds > 0:
        parser.error("--seconds must be more than 0")
    if not 0 <= chosen.port <= 65535:
        parser.error("--port must be from 0 to 65535")
    return chosen


def main() -> int:
    chosen = options()
    python = environment.ready()
    if not environment.inside():
        return environment.hand_over([str(python), __file__, *sys.argv[1:]])
    import typer

    from planner.cli.first_look import first_look

    try:
        first_look(environment.ROOT / "sample_shop", chosen.seconds, chosen.port, not chosen.no_serve)
    except typer.Exit as end:
        return end.exit_code
    except typer.BadParameter as wrong:
        print(wrong.message, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
