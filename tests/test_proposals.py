"""Proposals on shops small enough to know the answer: what pays is kept with what it saved, what does not is left."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from explode_shops import machine_step, manual_step, open_batch, order, part, shop
from intake_folders import Folder, add, put, with_a_late_batch
from test_cli import FAULTS, GOOD, run

from planner.answers.proposals import SPLIT_CAUTION, switched_off_by
from planner.answers.proposals import proposals as proposals_of
from planner.answers.summary import summary
from planner.explode import explode
from planner.faults import DataFaults
from planner.main_job import document_of, load_plan, make_plan, plan_shop, read_work, save
from planner.plan import AcceptedStep, Cost, Listed, Plan
from planner.planfile import PlanText, start_from
from planner.proposals import may_propose, propose
from planner.proposals.candidates import candidates
from planner.proposals.carry import carried
from planner.proposals.improve import _Proposer
from planner.search import search
from planner.search.limit import Limit
from planner.shop import Alternative, Component, Pin, Shop
from planner.verify import verify
from planner.work import Change, Proposal, Work

EITHER = machine_step(10, alternatives=(Alternative("LATHE", 30, 60), Alternative("LATHE2", 30, 60)))
MONDAY = date(2026, 3, 23)  # the plan starts at 08:00; hours 08:00-12:00 and 12:30-16:30


LATHE = 1  # machines come by name, after BENCH


def proposed(made: Shop, trials: int = 2000) -> tuple[Work, Plan]:
    work = explode(made)
    work, plan = propose(made, work, search(work, trials=500), trials=trials)
    assert verify(work, plan) == []
    return work, plan


# --- split -----------------------------------------------------------------------------------


def late_order(**more: Any) -> Shop:
    """600 pieces of a minute and a setup of 30 on one lathe end on Tuesday at 10:30; halves end on Monday at 14:00."""
    parts = (part("P", split_minimum=300),)
    return shop((order("C1", "P", 600, MONDAY),), parts, **{"routings": {"P": (EITHER,)}, **more})


def test_a_late_batch_is_split_over_both_lathes_and_is_ready_in_time() -> None:
    """Without it the order is 18.5 h late at a weight of 3. A second setup of 30 min at a price of 10 is paid for it."""
    work, plan = proposed(late_order())
    assert [b.name for b in work.batches] == ["C1-1/1", "C1-1/2"]
    assert sorted(s.run_end for s in plan.steps) == [360, 360]
    (found,) = work.proposals
    assert (found.saved.late, found.saved.setup) == (3 * (18 * 60 + 30), -300)
    assert (found.pieces, found.orders) == ((300, 300), (("C1", 20 * 60 + 30),))


def test_a_split_is_told_with_machines_gain_and_caution() -> None:
    work, plan = proposed(late_order())
    (row,) = proposals_of(work, plan)
    assert row.text.startswith("C1-1 (the p P, 600 pieces) is run as 300 on LATHE")
    assert "300 on LATHE2" in row.text
    assert "order C1 ready 20 h 30 min earlier; 3,330 weighted minutes of lateness" in row.text
    assert "30 min of setting more" in row.text
    assert (row.caution, row.saved_setup_min) == (SPLIT_CAUTION, -30)
    data = summary(work, plan)
    assert data["proposals"][0]["text"] == row.text
    assert any("C1-1" in line and SPLIT_CAUTION in line for line in data["cautions"])


def test_a_split_that_does_not_help_is_not_proposed() -> None:
    """The other lathe is a hundred times as slow: the order is late either way, and half of it there is later still."""
    slow = machine_step(10, alternatives=(Alternative("LATHE", 30, 60), Alternative("LATHE2", 30, 6000)))
    made = late_order(routings={"P": (slow,)})
    assert candidates(made, explode(made), search(explode(made), trials=100))
    work, plan = proposed(made)
    assert work.proposals == ()
    assert plan.cost.late == 3330


def test_a_split_that_stays_on_one_lathe_is_not_proposed() -> None:
    """Halves would let the bench begin sooner. That is what transfer batches are for, not two machines."""
    slow = machine_step(10, alternatives=(Alternative("LATHE", 30, 60), Alternative("LATHE2", 30, 6000)))
    made = late_order(routings={"P": (slow, manual_step(20))})
    work = explode(made)
    halves = explode(made, (), [Proposal(Change.SPLIT, "P", ("C1-1",), ())])
    assert search(halves, trials=500).cost.late < search(work, trials=500).cost.late
    assert proposed(made)[0].proposals == ()


def test_a_split_needs_a_late_order_a_choice_of_machines_and_leave() -> None:
    in_time = replace(late_order(), orders={"C1": order("C1", "P", 600)})
    one_machine = late_order(routings={"P": (machine_step(10),)})
    no_leave = late_order()
    no_leave.parts["P"] = part("P", split_minimum=301)
    for made in (in_time, one_machine, no_leave):
        assert candidates(made, explode(made), search(explode(made), trials=100)) == []


# --- combine ---------------------------------------------------------------------------------


def two_orders(days: int | None = 0, **settings: Any) -> Shop:
    """Two batches of 50 go over one lathe twice, with a setup of 30 each time; a minute in progress costs 10.

    One after the other: four setups (1200), 160 min and, over the midday break, 190 in progress: 4700. By turns: two setups, 210 and
    210: 4800. As one batch: two setups (600) and 290 in progress: 3500.
    """
    steps = {"P": (machine_step(10), machine_step(20))}
    settings = {"wip_weight": 10, **settings}
    parts = (part("P", combine_within_days=days),)
    return shop((order("C1", "P", 50), order("C2", "P", 50)), parts, steps, settings=settings)


def test_batches_of_one_part_are_run_as_one_where_that_saves_setups() -> None:
    work, plan = proposed(two_orders())
    assert [(b.name, b.start_pieces) for b in work.batches] == [("C1-1+C2-1", 100)]
    assert plan.cost == Cost(0, 0, 2900, 600, 0)
    (found,) = work.proposals
    assert found.saved == Cost(0, 0, 600, 600, 0)
    (row,) = proposals_of(work, plan)
    assert row.text == (
        "C1-1 and C2-1 (the p P) are run as one batch of 100 pieces: 1 h of setting less; "
        "60 batch-minutes in progress less."
    )
    assert row.caution == ""


def test_batches_stay_apart_where_that_is_cheaper() -> None:
    """Without a second step there is no setup to save: set once, each batch is in progress for its own run only."""
    made = replace(two_orders(), routings=shop((), (part("P"),)).routings)
    work, _ = proposed(made)
    assert [b.name for b in work.batches] == ["C1-1", "C2-1"]


def test_a_proposal_is_not_praised_for_what_searching_alone_would_find() -> None:
    """X is late because it is behind C1. The search for C1+C2 brings it forward, and so does one without."""
    made = replace(two_orders(), routings=shop((), (part("P"), part("X"))).routings)
    made.parts["X"] = part("X")
    made.orders["X"] = order("X", "X", 50, datetime(2026, 3, 23, 9, 20))
    work = explode(made)
    at = {b.name: b.operations[0] for b in work.batches}
    poor = search(work, trials=1, start=[Listed(at[name], LATHE) for name in ("C1-1", "X-1", "C2-1")])
    assert poor.cost.late == 3 * 80
    assert [p.batches for p in candidates(made, work, poor)] == [("C1-1", "C2-1")]
    as_one = explode(made, (), [Proposal(Change.COMBINE, "P", ("C1-1", "C2-1"), ())])
    assert search(as_one, trials=220, start=carried(work, poor, as_one)).cost.late == 0
    found, plan = propose(made, work, poor, trials=2000)
    assert (found.proposals, plan.cost.late) == ((), 0)


def test_a_combination_that_grows_keeps_what_it_saved_before() -> None:
    made = two_orders()
    made.orders["C3"] = order("C3", "P", 50)
    before = Proposal(Change.COMBINE, "P", ("C1-1", "C2-1"), (), Cost(5, 0, 0, 0, 0), (("C1", 60),))
    work = explode(made, (), [before])
    (found,) = propose(made, work, search(work, trials=300), trials=1000)[0].proposals
    assert (found.batches, found.orders, found.saved.late) == (("C1-1", "C2-1", "C3-1"), (("C1", 60),), 5)
    assert found.saved.second > 0


def test_three_batches_become_one_step_by_step() -> None:
    """Apart: six setups and 160 + 190 + 160 min in progress. As one: two setups and 390 min."""
    made = two_orders()
    made.orders["C3"] = order("C3", "P", 50)
    work, _ = proposed(made)
    (found,) = work.proposals
    assert (found.batches, found.pieces) == (("C1-1", "C2-1", "C3-1"), (150,))
    assert found.saved == Cost(0, 0, 1200, 1200, 0)


# --- whose batches are not touched -------------------------------------------------------------


def test_what_the_manager_decided_is_no_candidate() -> None:
    released = late_order(batches=(open_batch("B1", "P", 600, order="C1"),))
    pinned = late_order(pins=(Pin("C1-1", 10, not_before=datetime(2026, 3, 23, 8, 30)),))
    for made in (released, pinned):
        work = explode(made)
        plan = search(work, trials=50)
        assert plan.cost.late > 0
        assert candidates(made, work, plan) == []


def test_what_has_a_place_in_the_accepted_plan_is_no_candidate() -> None:
    """Else its price of change would be saved by giving it another name."""
    made = late_order()
    for start, expected in (("2026-03-23T08:00:00+00:00", 0), ("2026-03-30T08:00:00+01:00", 1)):
        work = explode(made, (AcceptedStep("C1-1", 10, "LATHE", start),))
        assert len(candidates(made, work, search(work, trials=50))) == expected


@pytest.mark.parametrize("name", ["C1-1", "C1-1/1"])
def test_what_is_to_be_left_alone_is_no_candidate(name: str) -> None:
    made = replace(late_order(), left_alone=(name,))
    work = explode(made)
    assert candidates(made, work, search(work, trials=50)) == []
    assert proposed(made, 500)[0].proposals == ()


def test_only_what_is_to_be_left_alone_is_no_candidate() -> None:
    made = replace(late_order(), left_alone=("C2-1",))
    made.orders["C2"] = order("C2", "P", 600, MONDAY)
    work = explode(made)
    assert [p.batches for p in candidates(made, work, search(work, trials=50))] == [("C1-1",)]


# --- what has become useless -------------------------------------------------------------------

SLOW = machine_step(10, alternatives=(Alternative("LATHE", 30, 60), Alternative("LATHE2", 30, 6000)))
IN_HALVES = Proposal(Change.SPLIT, "P", ("C1-1",), (), Cost(7, 0, 0, 0, 0), (("C1", 7),))


def taken_over(
    made: Shop, *proposals: Proposal, trials: int = 1000, accepted: tuple[AcceptedStep, ...] = ()
) -> tuple[Work, Plan]:
    """What comes of a plan that already has proposals; both halves of each split are there."""
    work = explode(made, accepted, proposals)
    assert len(work.proposals) == len(proposals)
    before = search(work, trials=300)
    work, plan = propose(made, work, before, accepted, trials=trials)
    assert verify(work, plan) == []
    assert (plan.cost.first, plan.cost.second) <= (before.cost.first, before.cost.second)
    assert plan.trials == before.trials + trials
    return work, plan


def test_a_split_that_costs_a_setup_for_nothing_is_given_up() -> None:
    """The other lathe is a hundred times as slow: both halves are on one, with a setup each."""
    work, plan = taken_over(late_order(routings={"P": (SLOW,)}), IN_HALVES)
    assert (work.proposals, [b.name for b in work.batches]) == ((), ["C1-1"])
    assert plan.cost.setup == 300


@pytest.mark.parametrize(("due", "proposals"), [(date(2026, 4, 30), 0), (MONDAY, 1)])
def test_of_plans_that_cost_the_same_the_one_without_is_taken(due: date, proposals: int) -> None:
    """Nothing to set and no price on work in progress: halves cost the same, but the bench is done with them sooner."""
    step = machine_step(10, alternatives=(Alternative("LATHE", 0, 60), Alternative("LATHE2", 0, 6000)))
    made = late_order(routings={"P": (step, manual_step(20))}, settings={"wip_weight": 0})
    made.orders["C1"] = order("C1", "P", 600, due)
    work, plan = taken_over(made, IN_HALVES)
    assert len(work.proposals) == proposals
    assert plan.cost.second == 0


def test_a_proposal_that_still_pays_is_kept_with_what_it_saved_when_it_was_found() -> None:
    work, plan = taken_over(late_order(), IN_HALVES)
    (found,) = work.proposals
    assert (found.saved, found.orders) == (IN_HALVES.saved, IN_HALVES.orders)
    assert plan.cost.late == 0


def test_giving_one_up_leaves_what_another_one_saved() -> None:
    """P in halves is for nothing, Q on both lathes is not."""
    parts = (part("P", split_minimum=300), part("Q", split_minimum=300))
    orders = (order("C1", "P", 600), order("C2", "Q", 600, MONDAY))
    made = shop(orders, parts, {"P": (SLOW,), "Q": (EITHER,)})
    other = Proposal(Change.SPLIT, "Q", ("C2-1",), (300, 300), Cost(9, 0, 0, 0, 0), (("C2", 9),))
    work, _ = taken_over(made, IN_HALVES, other, trials=2000)
    assert work.proposals == (other,)


def test_batches_run_as_one_are_parted_where_that_is_no_worse() -> None:
    made = replace(two_orders(), routings=shop((), (part("P"),)).routings)
    as_one = Proposal(Change.COMBINE, "P", ("C1-1", "C2-1"), ())
    assert [b.name for b in taken_over(made, as_one)[0].batches] == ["C1-1", "C2-1"]
    assert [b.name for b in taken_over(two_orders(), as_one)[0].batches] == ["C1-1+C2-1"]


@pytest.mark.parametrize(("start", "kept"), [("2026-03-23T08:00:00+00:00", 1), ("2026-03-30T08:00:00+01:00", 0)])
def test_what_has_a_place_in_the_accepted_plan_is_not_given_up(start: str, kept: int) -> None:
    made = late_order(routings={"P": (SLOW,)})
    accepted = (AcceptedStep("C1-1/1", 10, "LATHE", start),)
    assert len(taken_over(made, IN_HALVES, accepted=accepted)[0].proposals) == kept


def test_a_pinned_half_is_not_given_up() -> None:
    made = late_order(routings={"P": (SLOW,)}, pins=(Pin("C1-1/1", 10, "LATHE"),))
    assert len(taken_over(made, IN_HALVES)[0].proposals) == 1


def test_what_is_left_of_the_limit_is_enough_to_give_up() -> None:
    """Two more late orders, for which halves are as little use, would take all 230 trials: a look at each and one short search."""
    made = late_order(routings={"P": (SLOW,)})
    for number in ("C2", "C3"):
        made.orders[number] = order(number, "P", 600, MONDAY)
    assert taken_over(made, IN_HALVES, trials=222)[0].proposals == ()


def test_nothing_is_given_up_when_the_limit_is_reached() -> None:
    made = late_order(routings={"P": (SLOW,)})
    work = explode(made, (), (IN_HALVES,))
    found, _ = propose(made, work, search(work, trials=300), trials=1000, stop=lambda: True)
    assert found is work


# --- how it goes on ------------------------------------------------------------------------------


def test_the_same_limit_of_trials_gives_the_same_proposals_and_plan() -> None:
    (one, first), (two, second) = (proposed(late_order(), 700) for _ in range(2))
    assert one == two
    assert (first.steps, first.cost, first.trials) == (second.steps, second.cost, second.trials)
    assert first.trials == 500 + 700


def test_what_a_plan_decided_is_carried_into_halves_and_back() -> None:
    made = late_order()
    work = explode(made)
    plan = search(work, trials=50)
    halves = explode(made, (), [Proposal(Change.SPLIT, "P", ("C1-1",), ())])
    machine = plan.steps[0].machine
    assert carried(work, plan, halves) == [Listed(0, machine), Listed(1)]
    two = search(halves, trials=50)
    assert carried(halves, two, work) == [Listed(0, two.step_of()[two.sequence[0]].machine)]


def test_what_a_plan_decided_is_carried_into_one_batch_and_back() -> None:
    made = two_orders()
    work = explode(made)
    as_one = explode(made, (), [Proposal(Change.COMBINE, "P", ("C1-1", "C2-1"), ())])
    assert carried(work, search(work, trials=50), as_one) == [Listed(0, LATHE), Listed(1, LATHE)]
    assert [row.operation for row in carried(as_one, search(as_one, trials=50), work)] == [0, 2, 1, 3]


def test_a_plan_that_finds_no_time_is_left_as_it_is() -> None:
    made = late_order()
    work = explode(made)
    plan = search(work, trials=5)
    none = replace(plan, state=type(plan.state).IMPOSSIBLE, steps=())
    assert propose(made, work, none, trials=50)[0] is work


def test_it_is_asked_for_by_a_part_and_a_setting() -> None:
    assert may_propose(late_order())
    assert may_propose(two_orders())
    assert not may_propose(two_orders(days=None))
    assert not may_propose(late_order(settings={"batch_proposals": False}))


# --- from tables to a plan file and back -----------------------------------------------------------


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return with_a_late_batch(tmp_path_factory.mktemp("shop") / "shop").path


@pytest.fixture(scope="module")
def plan_file(folder: Path) -> Path:
    job = make_plan(folder, trials=4000)
    assert [p.batches for p in job.work.proposals] == [("O-6-1",)]
    file = folder.parent / "plan.json"
    save(job, file)
    assert load_plan(folder, file) == job
    return file


def test_a_plan_file_lists_its_proposals_and_is_verified_with_them(folder: Path, plan_file: Path) -> None:
    (row,) = json.loads(plan_file.read_text("utf-8"))["proposals"]
    assert (row["kind"], row["part"], row["batches"]) == ("split", "GR-120", [{"batch": "O-6-1"}])
    assert [made["batch"] for made in row["makes"]] == ["O-6-1/1", "O-6-1/2"]
    assert run("verify", folder, plan_file).exit_code == GOOD
    told = run("proposals", folder, plan_file)
    assert "O-6-1 (burr carrier GR-120" in told.stdout
    assert SPLIT_CAUTION in told.stdout
    assert [r["batches"] for r in json.loads(run("proposals", folder, plan_file, "--json").stdout)] == [["O-6-1"]]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda rows: rows.clear(), "made for other data"),
        (lambda rows: rows[0]["makes"][0].update(pieces=1), "made for other data"),
        (lambda rows: rows[0]["batches"][0].update(batch="O-3-1"), "not what comes of its 'batches'"),
        (lambda rows: rows[0]["batches"].clear(), "not what comes of its 'batches'"),
        (lambda rows: rows[0].update(kind="halve"), "a known name"),
        (lambda rows: rows[0]["saved"].pop("late"), "has no 'late'"),
    ],
)
def test_a_changed_proposal_is_refused(folder: Path, plan_file: Path, tmp_path: Path, change: Any, words: str) -> None:
    document = json.loads(plan_file.read_text("utf-8"))
    change(document["proposals"])
    (tmp_path / "p.json").write_text(json.dumps(document), "utf-8")
    result = run("verify", folder, tmp_path / "p.json")
    assert result.exit_code == FAULTS
    assert words in result.stderr


def test_an_accepted_plan_keeps_its_proposals_and_the_names_of_its_batches(folder: Path, plan_file: Path) -> None:
    job = make_plan(folder, trials=20, keep=plan_file)
    assert job.work.proposals[0].batches == ("O-6-1",)
    kept = {job.work.batches[job.work.operations[k.operation].batch].name for k in job.work.kept}
    assert {"O-6-1/1", "O-6-1/2"} <= kept


def test_an_old_proposal_that_would_be_a_fault_now_is_left_out(folder: Path, tmp_path: Path) -> None:
    """Two batches of 7 h each may not pause: as one they are longer than any shift."""
    another = "order=O-7|customer=Northgate Tools|part=GR-120|quantity=110|due=2026-03-24|class=normal"
    longer = Folder(tmp_path / "shop", folder).edit(
        add("orders", another), put("parts", 4, "combine_within_days", "0"), put("parts", 4, "split_minimum", "")
    )
    as_one = Proposal(Change.COMBINE, "GR-120", ("O-6-1", "O-7-1"), ())
    with pytest.raises(DataFaults):
        explode(longer.read(), (), [as_one])
    _, work = read_work(longer.path, (), [as_one])
    assert {"O-6-1", "O-7-1"} <= {b.name for b in work.batches}


def test_no_proposals_is_none_by_the_command_and_by_the_setting(folder: Path, plan_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "p.json"
    for keep in ((), ("--keep", plan_file)):
        assert run("plan", folder, "--trials", 4000, "--no-proposals", "--out", out, *keep).exit_code == GOOD
        assert json.loads(out.read_text("utf-8"))["proposals"] == []
    off = Folder(tmp_path / "off", folder).edit(add("settings", "name=batch_proposals|value=no"))
    assert run("plan", off.path, "--trials", 4000, "--out", out).exit_code == GOOD
    assert json.loads(out.read_text("utf-8"))["proposals"] == []
    assert "made for other data" in run("verify", off.path, plan_file).stderr


@pytest.mark.parametrize("name", ["O-6-1", "O-6-1/2"])
@pytest.mark.parametrize("keep", [False, True])
def test_one_proposal_is_switched_off_by_the_command(
    folder: Path, plan_file: Path, tmp_path: Path, name: str, keep: bool
) -> None:
    """Also where it is in the plan that is kept."""
    out = tmp_path / "p.json"
    more = ("--keep", plan_file) if keep else ()
    assert run("plan", folder, "--trials", 1000, "--leave-alone", name, "--out", out, *more).exit_code == GOOD
    document = json.loads(out.read_text("utf-8"))
    assert document["proposals"] == []
    assert "O-6-1" in {step["batch"] for step in document["operations"]}
    assert run("verify", folder, out).exit_code == GOOD


def test_one_proposal_is_switched_off_by_the_table_and_another_row_leaves_it(
    folder: Path, plan_file: Path, tmp_path: Path
) -> None:
    for name, proposals in (("O-6-1", []), ("O-5-1", [("O-6-1",)])):
        made = Folder(tmp_path / name, folder).edit(add("left_alone", f"batch={name}|reason=one machine is enough"))
        assert [p.batches for p in make_plan(made.path, trials=100, keep=plan_file).work.proposals] == proposals


def test_a_batch_that_is_not_there_cannot_be_left_alone(folder: Path, tmp_path: Path) -> None:
    words = (
        "plan",
        folder,
        "--trials",
        10,
        "--out",
        tmp_path / "p.json",
        "--leave-alone",
        "O-6-1",
        "--leave-alone",
        "O-61",
    )
    wrong = run(*words)
    assert wrong.exit_code == 2
    told = " ".join(wrong.stderr.replace("│", " ").split())
    assert "--leave-alone: there is no batch 'O-61'. Did you mean 'O-6-1'?" in told
    assert "These may be:" in told and "O-3-1" in told
    assert not (tmp_path / "p.json").exists()


def test_what_is_printed_switches_just_that_one_off(folder: Path, plan_file: Path) -> None:
    for words in (
        ("proposals", folder, plan_file),
        ("plan", folder, "--trials", 2, "--keep", plan_file, "--out", plan_file.parent / "q.json"),
    ):
        told = run(*words).stdout
        assert (
            "plan again with --leave-alone O-6-1; for good: put a row O-6-1 into left_alone.csv and plan again." in told
        )
    assert [r["name"] for r in json.loads(run("proposals", folder, plan_file, "--json").stdout)] == ["O-6-1"]


def test_how_a_proposal_is_switched_off_is_said_by_its_name() -> None:
    work, plan = proposed(two_orders())
    assert [row.name for row in proposals_of(work, plan)] == ["C1-1+C2-1"]
    assert "--leave-alone 'two words-1';" in switched_off_by("two words-1", False)
    assert "event DB leave-alone C1-1+C2-1, then plan again" in switched_off_by("C1-1+C2-1", True)


def test_the_accepted_list_stands_for_what_is_no_longer_split_or_run_as_one() -> None:
    job = plan_shop(late_order(), trials=2000)
    source = PlanText("the plan", document_of(job))
    first, second = (job.plan.step_of()[i].machine for i in (0, 1))
    assert start_from(source, job.work) == [Listed(i, (first, second)[i]) for i in job.plan.sequence]
    assert start_from(source, explode(late_order())) == [Listed(0, first)]
    one = plan_shop(two_orders(), trials=2000)
    assert [b.name for b in one.work.batches] == ["C1-1+C2-1"]
    apart = start_from(PlanText("the plan", document_of(one)), explode(two_orders()))
    assert [(row.operation, row.machine) for row in apart] == [(0, LATHE), (2, LATHE), (1, LATHE), (3, LATHE)]


def test_without_leave_nothing_changes(folder: Path, tmp_path: Path) -> None:
    """No part allows anything: the plan is the same as without proposals."""
    plain = Folder(tmp_path / "plain", folder).edit(put("parts", 4, "split_minimum", ""))
    one, two = (make_plan(plain.path, trials=300, proposals=on) for on in (True, False))
    assert one.work == two.work
    assert (one.plan.steps, one.plan.trials) == (two.plan.steps, two.plan.trials)


def test_no_proposal_changes_a_decided_batch_through_what_it_goes_into() -> None:
    """K-1 is pinned, and made for C2: run as one with C1's, that would need components of another batch."""
    parts = (part("P", combine_within_days=9, yield_percent=97.0), part("K"))
    orders = (order("C1", "P", 30), order("C2", "P", 30))
    made = shop(orders, parts, structure=(Component("P", "K", 1, 10),), pins=(Pin("C2/K-1", 10, "LATHE"),))
    work = explode(made)
    plan = search(work, trials=50)
    combined = Proposal(Change.COMBINE, "P", ("C1-1", "C2-1"), ())
    assert explode(made, (), [combined]).proposals
    assert _Proposer(made, work, plan, (), Limit(None, 100, None), None)._work_with(combined) is None
    free = replace(made, pins=())
    assert _Proposer(free, explode(free), plan, (), Limit(None, 100, None), None)._work_with(combined) is not None


def test_an_order_of_more_pieces_stays_split_in_the_plan_that_is_kept() -> None:
    """In halves that are larger; their names, and so their places, stay."""
    job = plan_shop(late_order(), trials=2000)
    assert [b.name for b in job.work.batches] == ["C1-1/1", "C1-1/2"]
    more = late_order()
    more = replace(more, orders={"C1": replace(more.orders["C1"], quantity=602)})
    again = plan_shop(more, trials=200, keep=PlanText("the plan", document_of(job)))
    assert [(b.name, b.start_pieces) for b in again.work.batches] == [("C1-1/1", 301), ("C1-1/2", 301)]
