"""A step begins on a machine, or goes out to another firm."""

from __future__ import annotations

from planner.day.board import Board, typed
from planner.day.components import issue
from planner.day.hands import person_begins
from planner.day.record import Booking
from planner.day.refusal import Refused
from planner.day.release import ensure_released
from planner.explode.progress import needs_pieces
from planner.shop import OpenBatch, Operation
from planner.store.records import MINUTE
from planner.work import Begun


def start(board: Board, booking: Booking) -> str:
    """A step is put on a machine: setting begins, or the run where nothing is to be set."""
    told = ensure_released(board, booking.batch)
    batch = board.batch(booking.batch)
    place, step = board.step(batch, booking.operation)
    if step.kind not in ("machine", "manual"):
        raise Refused(
            f"{booking.name} is done by {step.supplier}: book it sent out."
            if step.kind == "outside"
            else f"{booking.name} is a wait: it needs no booking."
        )
    state = board.states(batch)[place]
    _not_begun(board, booking, state.begun)
    _before_done(board, booking, batch, place)
    _not_held(board, booking)
    machine = _machine_for(board, booking, step)
    _machine_free(board, booking, machine)
    _equipment_free(board, booking, step)
    minutes = setup_minutes(board, batch.part, step, machine)
    told += person_begins(board, booking, step, machine, minutes)
    told += issue(board, batch, step, needs_pieces(state))
    before = state.row
    made_before = before is not None and bool(before.good or before.scrap)
    board.facts["good_before"] = before.good if before else 0
    board.facts["machine"] = machine
    board.facts["setup_min"] = minutes
    board.put(
        batch.number, step.number, state="running", machine=machine, person=booking.person, setup_left_min=minutes,
        first_off_passed=False, good=before.good if before else 0, scrap=before.scrap if before else 0,
        set_again=made_before,
    )  # fmt: skip
    _now_on(board, machine, batch.part, step)
    doing = f"{minutes} min to set" if minutes else "nothing to set"
    return " ".join([f"{booking.name} started on {machine}, {doing}.", *told])


def sent_out(board: Board, booking: Booking) -> str:
    """A batch left for an outside firm."""
    told = ensure_released(board, booking.batch)
    batch = board.batch(booking.batch)
    place, step = board.step(batch, booking.operation)
    if step.kind != "outside":
        raise Refused(f"{booking.name} is done here: book its start.")
    _not_begun(board, booking, board.states(batch)[place].begun)
    _before_done(board, booking, batch, place)
    _not_held(board, booking)
    told += issue(board, batch, step, needs_pieces(board.states(batch)[place]))
    board.put(batch.number, step.number, state="out", collected=board.at)
    return " ".join([f"{booking.name} went out to {step.supplier}.", *told])


# --- may it begin? -----------------------------------------------------------------------------


def _not_begun(board: Board, booking: Booking, begun: Begun) -> None:
    row = board.row(booking.batch, booking.operation)
    if begun is Begun.DONE:
        raise Refused(f"{booking.name} is done already.")
    if begun is Begun.OUT:
        raise Refused(f"{booking.name} has been out since {row['collected'] if row else ''}.")
    if begun is Begun.RUNNING:
        raise Refused(f"{booking.name} is on {row['machine'] if row else 'a machine'} already.")


def _before_done(board: Board, booking: Booking, batch: OpenBatch, place: int) -> None:
    """The step before is done; or it is begun, and hands pieces on or may be set ahead of."""
    if place == 0:
        return
    before, step = board.steps(batch.part)[place - 1], board.steps(batch.part)[place]
    state = board.states(batch)[place - 1]
    if state.begun is Begun.DONE:
        ends = [e for e in board.booked(batch.number, before.number) if e.what in ("finish", "came back")]
        board.not_before(ends[-1] if ends else None, f"Operation {before.number} was done")
        return
    begun = state.begun in (Begun.RUNNING, Begun.PART)
    if not (begun and before.kind == "machine" and (before.transfer_pieces or step.setup_ahead)):
        words = {Begun.NO: "has not begun", Begun.OUT: f"is still out at {before.supplier}"}
        raise Refused(
            f"{booking.name} cannot begin: operation {before.number} before it {words.get(state.begun, 'is not done')}."
        )


def _not_held(board: Board, booking: Booking) -> None:
    pin = board.draft.find("pins", batch=booking.batch, operation=booking.operation)
    if pin is None:
        return
    until = typed(pin)["not_before"]
    if until is not None and until > board.at:
        why = f" ({pin['reason']})" if pin["reason"] else ""
        raise Refused(f"{booking.name} is held until {until:{MINUTE}}{why}: lift that first.")
    for named, pinned in ((booking.machine, pin["machine"]), (booking.person, pin["person"])):
        if named and pinned and named != pinned:
            raise Refused(f"{booking.name} is pinned to {pinned}: lift that first.")


def _machine_for(board: Board, booking: Booking, step: Operation) -> str:
    """The machine named, pinned, or the only one."""
    able = [a.machine for a in step.alternatives]
    pin = board.draft.find("pins", batch=booking.batch, operation=booking.operation)
    barred = typed(pin)["not_machines"] if pin else ()
    able = [machine for machine in able if machine not in barred] or able
    machine = booking.machine or (pin["machine"] if pin else "") or (able[0] if len(able) == 1 else "")
    if not machine:
        raise Refused(f"Say on which machine {booking.name} is: {' or '.join(able)}.")
    board.known("machines", machine)
    if machine in barred:
        raise Refused(f"{booking.name} is not to go on {machine}: lift that first.")
    if machine not in able:
        raise Refused(f"{machine} cannot do {booking.name}: {' or '.join(able)} can.")
    return machine


def _machine_free(board: Board, booking: Booking, machine: str) -> None:
    for row in board.running():
        if row["machine"] == machine:
            raise Refused(
                f"{machine} is busy with batch {row['batch']} operation {row['operation']}: book that finished, "
                "or stopped and torn down, first."
            )
    for down in map(typed, board.draft.rows("downtime")):
        if down["machine"] == machine and down["from"] <= board.at < down["to"]:
            why = f" ({down['reason']})" if down["reason"] else ""
            raise Refused(f"{machine} is down until {down['to']:{MINUTE}}{why}: say that it runs again first.")
    left = [e for e in board.bookings if e.data.get("left_machine") == machine]
    board.not_before(left[-1] if left else None, f"{machine} was busy with other work until it was free")


def _equipment_free(board: Board, booking: Booking, step: Operation) -> None:
    for name, amount in step.equipment:
        users, held = [], 0
        for row in board.running():
            other = board.step(board.batch(row["batch"]), row["operation"])[1]
            units = sum(n for e, n in other.equipment if e == name)
            held += units
            users += [f"batch {row['batch']} operation {row['operation']} on {row['machine']}"] if units else []
        if held + amount > board.shop.equipment[name].count:
            raise Refused(f"{booking.name} needs {name}, which is in use: {', '.join(users)}.")


# --- setting -----------------------------------------------------------------------------------


def setup_minutes(board: Board, part: str, step: Operation, machine: str) -> int:
    """Minutes of setting from what is on the machine now; none where just this is set and its equipment is there."""
    on = typed(board.known("machines", machine))
    needs = {name for name, _ in step.equipment}
    if (on["on_part"], on["on_operation"]) == (part, step.number) and needs <= set(on["on_equipment"]):
        return 0
    base = next(a.setup_min for a in step.alternatives if a.machine == machine)
    group = board.shop.machines[machine].group
    return base + board.shop.changeovers.get((group, on["on_family"] or "", step.family or ""), 0)


def _now_on(board: Board, machine: str, part: str, step: Operation) -> None:
    """The machine carries the step's equipment, which others that stand still no longer do."""
    names = [name for name, _ in step.equipment]
    row = board.known("machines", machine)
    board.draft.put(
        row,
        {"on_part": part, "on_operation": step.number, "on_family": step.family or "", "on_equipment": ";".join(names)},
    )
    busy = {r["machine"] for r in board.running()}
    for name in names:
        users = [r for r in board.draft.rows("machines") if name in typed(r)["on_equipment"]]
        idle = [r for r in users if r["machine"] not in busy]
        for user in idle[: max(0, len(users) - board.shop.equipment[name].count)]:
            left = [e for e in typed(user)["on_equipment"] if e != name]
            board.draft.put(user, {"on_equipment": ";".join(left)})
