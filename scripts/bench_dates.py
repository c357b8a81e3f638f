"""How soon a date is there.

Usage: python scripts/bench_dates.py [--shop FOLDER] [--grow N] [--plan-seconds S] [--part P --pieces N --wanted DATE]

Plans the shop (the sample shop unless told), then asks for a date and says when each answer came: the planned date behind
everything, the same with its safe day, and so on to the last; by the clock, and what the processor spent on it (two threads at once count
twice). ``--grow 1000`` leaves off orders or takes them several
times over, so that the plan has about so many operations.
"""

from __future__ import annotations

import argparse
import time
from datetime import date
from pathlib import Path

from bench_risk import grown

from planner.dates import Enquiry, dates
from planner.dates.replies import Reply
from planner.explode import explode
from planner.intake import read_shop
from planner.main_job import Job
from planner.search import get_ready, search

SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--shop", type=Path, default=SAMPLE)
    ask.add_argument("--grow", type=int, default=1000, help="operations, about")
    ask.add_argument("--plan-seconds", type=float, default=10.0)
    ask.add_argument("--part", default="GR-101")
    ask.add_argument("--pieces", type=int, default=50)
    ask.add_argument("--wanted", type=date.fromisoformat, default=date(2027, 7, 30))
    given = ask.parse_args()
    get_ready()
    shop = grown(read_shop(given.shop), given.grow)
    work = explode(shop)
    job = Job(shop, work, search(work, seconds=given.plan_seconds, seed=1))
    enquiry = Enquiry(given.part, given.pieces, given.wanted)
    dates(job, enquiry, seconds=0.5, draws=2)  # machine code
    print(f"{given.pieces} of {given.part} beside {len(job.plan.steps):,} operations, wanted {given.wanted}")
    began, used = time.perf_counter(), time.process_time()

    def say(text: str) -> None:
        print(f"{time.perf_counter() - began:6.2f} s, processor {time.process_time() - used:6.2f} s  {text}")

    def tell(way: str, what: Reply | str) -> None:
        say(f"{way}: {what if isinstance(what, str) else what.ready + (f', safe {what.safe}' if what.safe else '')}")

    dates(job, enquiry, tell=tell)
    say("all")


if __name__ == "__main__":
    main()
