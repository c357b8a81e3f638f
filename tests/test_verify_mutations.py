"""Every harmful change to an allowed plan is caught by a rule, also where the cost terms are made to fit the change."""

from __future__ import annotations

import random
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from builders import as_plan, cost_of
from mutations import CLAIM_KINDS, RULE_KINDS
from random_shops import random_work

from planner.plan import Plan
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Begun, Work

SHOPS = range(100, 114)


@pytest.fixture(scope="module")
def plans() -> list[tuple[Work, Plan]]:
    """Allowed plans of random lists, with first steps held back to random minutes."""
    found = []
    for number in SHOPS:
        work = random_work(number)
        table = Timetable(work)
        order = list(range(len(work.operations)))
        random.Random(number).shuffle(order)
        first = [
            b.operations[0] for b in work.batches if all(work.operations[i].begun is Begun.NO for i in b.operations)
        ]
        until = np.zeros(len(work.operations), np.int64)
        until[first] = random.Random(number).sample(range(3000), len(first))
        table.hold(until)
        table.time(table.repaired(order))
        found.append((work, as_plan(work, table)))
    return found


def test_the_plans_are_allowed_before_they_are_spoilt(plans: list[tuple[Work, Plan]]) -> None:
    assert [verify(work, plan) for work, plan in plans] == [[]] * len(plans)


@pytest.mark.parametrize("kind", RULE_KINDS, ids=lambda k: k.__name__)
def test_no_rule_can_be_broken_unseen(plans: list[tuple[Work, Plan]], kind) -> None:
    """With the cost terms added up anew, so that only a rule can tell."""
    tried = 0
    for work, plan in plans:
        for mutant in kind(work, plan):
            spoilt = replace(mutant, cost=cost_of(work, mutant))
            assert [b for b in verify(work, spoilt) if b.rule != "cost"], mutant
            tried += 1
    assert tried


@pytest.mark.parametrize("kind", CLAIM_KINDS, ids=lambda k: k.__name__)
def test_no_claim_of_a_plan_goes_unchecked(plans: list[tuple[Work, Plan]], kind) -> None:
    mutants = [(work, mutant) for work, plan in plans for mutant in kind(work, plan)]
    assert mutants
    assert all(verify(work, mutant) for work, mutant in mutants)


def test_the_verifier_shares_no_code_with_what_makes_plans() -> None:
    code = "import sys, planner.verify; print(*sorted(m for m in sys.modules if m.split('.')[0] in ('ortools', 'numba', 'planner')))"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert "planner.verify" in told
    assert [m for m in told if m.startswith(("ortools", "numba", "planner.timetable", "planner.search"))] == []
