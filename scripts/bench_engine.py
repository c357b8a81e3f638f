"""How good plans get and how soon, against published best values, dispatch rules and one plain CP-SAT model.

Usage: python scripts/bench_engine.py SUITE [...] --data DIR (--quick | --full) [options] [NAME ...]

Suites: jsp, fjsp (makespan), twt (weighted tardiness), shops (weekly hours), sample (the sample shop). DIR holds
jsp.json, fjsp.json, jsp_twt.json and shops.json, one instance to a line; a suite without its file is skipped. A NAME is
an instance (or the data that several share); without one, --quick takes a few minutes a suite and --full all that count.
With --out FILE every result is kept at once, by suite, name, seconds, seed and version of the code, and not made again;
the plain model's are kept for all versions. Everything goes the product's own way: Work, search, verify.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from engine_suites import academic, report, shops
from engine_suites.case import Case, read_instances
from engine_suites.measure import LARGEST_PLAIN, apart, plain_of, rule_of, search_of
from engine_suites.store import Store, code_version

FILES = {"jsp": "jsp.json", "fjsp": "fjsp.json", "twt": "jsp_twt.json", "shops": "shops.json"}
SUITES = (*FILES, "sample")
QUICK_SEC = {"jsp": 8.0, "fjsp": 8.0, "twt": 8.0, "shops": 10.0, "sample": 20.0}


def all_cases(suite: str, data: Path | None) -> list[Case] | None:
    """Every instance of a suite, in the order of its file; None where the file is not there."""
    if suite == "sample":
        return [shops.sample_case()]
    if data is None or not (data / FILES[suite]).is_file():
        return None
    instances = read_instances(data / FILES[suite])
    if suite == "twt":
        return [case for instance in instances for case in academic.twt_cases(instance)]
    make = {"jsp": academic.jsp_case, "fjsp": academic.fjsp_case, "shops": shops.shop_case}[suite]
    return [make(instance) for instance in instances]


def chosen(suite: str, cases: list[Case], given: argparse.Namespace) -> list[Case]:
    """Those named, else those of the quick or the full run; then one side of the split, where asked for."""
    if given.names:
        cases = [c for c in cases if c.name in given.names or c.base in given.names]
    elif given.quick and suite != "sample":
        cases = [c for c in cases if c.name in {**academic.QUICK, "shops": shops.QUICK}[suite]]
    elif suite == "jsp" and not given.all:
        cases = academic.full_jsp(cases)
    elif suite == "fjsp" and not given.all:
        cases = academic.full_fjsp(cases)
    return [c for c in cases if given.only is None or c.aside == (given.only == "aside")]


def seconds_of(case: Case, given: argparse.Namespace) -> float:
    if given.seconds is not None:
        return given.seconds
    return QUICK_SEC[case.suite] if given.quick else case.seconds


def measured(case: Case, given: argparse.Namespace, store: Store, version: str) -> report.Row:
    """What the store has, else what is measured now."""
    seconds = seconds_of(case, given)
    name, timed = f"{case.suite} {case.name}", f"{seconds:g} s"
    limit = timed if given.trials is None else f"{given.trials} trials"
    rule = store.get_or(f"rule {name} {version}", partial(apart, rule_of, case))
    plain = None
    if not given.no_plain and given.trials is None and case.operations <= LARGEST_PLAIN:
        plain = store.get_or(f"plain {name} {timed}", partial(apart, plain_of, case, seconds))
    key = f"search {name} {limit} seed {given.seed} {version}"
    return report.Row(case, rule, plain, store.get_or(key, partial(_searched, case, seconds, given)))


def _searched(case: Case, seconds: float, given: argparse.Namespace) -> dict:
    found = apart(search_of, case, seconds, given.seed, given.trials)
    return found if given.curve or case.suite == "sample" else {**found, "curve": []}


def run(suite: str, given: argparse.Namespace, store: Store, version: str) -> Iterator[str]:
    """Lines to print, as they come."""
    cases = all_cases(suite, given.data)
    if cases is None:
        yield f"{suite}: skipped, no folder with {FILES[suite]} was given (--data DIR)."
        return
    cases = chosen(suite, cases, given)
    yield f"{suite}: {len(cases)} instances, version {version}, seed {given.seed}"
    yield report.head(suite)
    rows = []
    for case in cases:
        rows.append(measured(case, given, store, version))
        yield report.line(rows[-1])
        if rows[-1].ours["curve"]:
            yield report.curve_line(rows[-1])
    yield from report.summary(suite, rows)


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("words", nargs="+", metavar="SUITE | NAME", help=f"suites ({', '.join(SUITES)}), then instances")
    ask.add_argument("--data", type=Path, help="folder with the instances")
    how = ask.add_mutually_exclusive_group(required=True)
    how.add_argument("--quick", action="store_true", help="a spread of few instances, up to 10 s each")
    how.add_argument("--full", action="store_true", help="all that count, 60 s each; shops 20 to 120 s")
    ask.add_argument("--all", action="store_true", help="with --full: every instance of the files")
    ask.add_argument("--seconds", type=float, help="for each instance, whatever the run")
    ask.add_argument("--trials", type=int, help="in place of seconds: the same each time; without the plain model")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--only", choices=("chosen", "aside"), help="those that settings are chosen on, or the others")
    ask.add_argument("--no-plain", action="store_true", help="without the plain model")
    ask.add_argument("--curve", action="store_true", help="keep and show cost and bound over time")
    ask.add_argument("--out", type=Path, help="JSON file to keep results in and go on from")
    given = ask.parse_intermixed_args(words)
    given.suites = [word for word in given.words if word in SUITES]
    given.names = [word for word in given.words if word not in SUITES]
    if not given.suites:
        ask.error(f"name at least one suite: {', '.join(SUITES)}")
    return given


def main() -> None:
    given, version = arguments(), code_version()
    store = Store(given.out)
    for suite in given.suites:
        for line in run(suite, given, store, version):
            print(line, flush=True)


if __name__ == "__main__":
    main()
