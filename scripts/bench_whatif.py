"""How long a what-if takes, the plan as it is included.

Usage: python scripts/bench_whatif.py [--shop FOLDER] [--grow N] [--plan-seconds S] [--seconds S] ["KIND PHRASE" ...]

Plans the shop (the sample shop unless told), then asks what some changes would do, one after the other, and says what each answer took
by the clock and of the processor, how far it was searched, what it found and the noise of that. ``--grow 1000`` takes orders twice over until
the plan has about so many operations.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from bench_risk import grown

from planner.alter import KINDS
from planner.alter.phrase import from_phrase
from planner.alter.replan import SECONDS, replan
from planner.explode import explode
from planner.intake import read_shop
from planner.main_job import Job
from planner.search import get_ready, search

SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"
ASKED = ("shift mills on 2027-07-10 at 06:00-12:00 by Ada, Cass", "down V1 from 2027-07-06 to 2027-07-08")


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument(
        "changes", nargs="*", default=ASKED, help="kind and phrase, as batchwright whatif --kinds has them"
    )
    ask.add_argument("--shop", type=Path, default=SAMPLE)
    ask.add_argument("--grow", type=int, default=1000, help="operations, about")
    ask.add_argument("--plan-seconds", type=float, default=10.0)
    ask.add_argument("--seconds", type=float, default=SECONDS, help="for all searches of an answer together")
    given = ask.parse_args()
    get_ready()
    shop = grown(read_shop(given.shop), given.grow)
    work = explode(shop)
    job = Job(shop, work, search(work, seconds=given.plan_seconds, seed=1))
    print(f"{len(job.plan.steps):,} operations, weighted lateness {job.plan.cost.late:,}")
    for said in given.changes:
        kind, phrase = said.split(" ", 1)
        change = from_phrase(KINDS[kind], phrase)
        began, used = time.perf_counter(), time.process_time()
        found = replan(job, [change], seconds=given.seconds).answer
        clock, processor = time.perf_counter() - began, time.process_time() - used
        print(
            f"{said}: {clock:.1f} s, processor {processor:.1f} s, {found.trials:,} trials; "
            f"weighted lateness {found.before.cost_first:,} -> {found.after.cost_first:,}, noise {found.noise.cost:,}"
        )


if __name__ == "__main__":
    main()
