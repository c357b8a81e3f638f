"""Makes and keeps the machine code that tests use: ``python tests/machine_code.py``."""

from __future__ import annotations

from pathlib import Path

from planner.explode import explode
from planner.intake import read_shop
from planner.risk import draw, spreads_of
from planner.search import get_ready, search


def main() -> None:
    get_ready()
    shop = read_shop(Path(__file__).parent / "data" / "tiny_shop")
    work = explode(shop)
    draw(work, search(work, trials=2, seed=1), spreads_of(shop, work), 2)


if __name__ == "__main__":
    main()
