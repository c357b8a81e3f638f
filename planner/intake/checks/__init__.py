"""Checks across tables: one idea each, all with the same signature, all in one list."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.faults import Fault
from planner.intake.checks import (
    booked,
    changeovers,
    dates,
    equipment,
    keys,
    months,
    orders,
    pins,
    progress,
    references,
    settings,
    skills,
    spreads,
    start_state,
    steps,
    structure,
    transfer,
    windows,
)
from planner.intake.rows import Tables

Check = Callable[[Tables], Iterator[Fault]]

# Each check with the tables without which it would blame the wrong thing: when one of them could not be
# read, its own fault says so and the check is passed over.
CHECKS: tuple[tuple[Check, tuple[str, ...]], ...] = (
    (settings.unknown_zone, ()),
    (settings.percents, ()),
    (keys.duplicate_keys, ()),
    (keys.names_with_marks, ()),
    (references.unknown_names, ()),
    (references.unknown_shop_calendar, ("calendars",)),
    (dates.closed_days_backwards, ()),
    (dates.absences_backwards, ()),
    (dates.calendar_ends_too_soon, ()),
    (dates.extra_shift_after_end, ()),
    (dates.collected_in_future, ()),
    (dates.cutoff_after_collection, ()),
    (windows.windows_without_length, ()),
    (windows.overlapping_hours, ()),
    (windows.overlapping_extra_shifts, ("closed_days",)),
    (windows.calendars_without_windows, ("hours", "extra_shifts")),
    (skills.skills_nobody_has, ()),
    (skills.minding_by_halves, ()),
    (skills.manual_without_skill, ()),
    (changeovers.missing_pairs, ("changeovers",)),
    (steps.missing_for_kind, ()),
    (steps.out_of_place, ()),
    (steps.groups_without_machines, ("groups", "machines")),
    (steps.routing_machines_elsewhere, ("routings",)),
    (steps.cycles_of_no_length, ()),
    (steps.outside_steps, ("suppliers",)),
    (steps.suppliers_without_vans, ()),
    (transfer.transfers, ()),
    (structure.made_without_routing, ("routings",)),
    (structure.bought_with_routing, ()),
    (structure.batch_rules, ()),
    (structure.split_and_combine_rules, ()),
    (structure.bought_parents, ()),
    (structure.component_operations, ()),
    (structure.loops, ()),
    (equipment.more_than_there_is, ()),
    (equipment.on_too_many_machines, ()),
    (start_state.start_states, ("parts", "routings", "machines", "routing_machines")),
    (progress.unknown_operations, ("routings",)),
    (progress.states_of_kind, ()),
    (progress.running_where_it_cannot, ("machines", "groups", "routing_machines")),
    (progress.two_on_one_machine, ()),
    (progress.running_with_too_much, ("routings", "equipment")),
    (progress.setters_without_skill, ("people", "groups")),
    (progress.setup_contradictions, ()),
    (progress.order_of_steps, ()),
    (progress.more_than_can_be_there, ()),
    (pins.empty_pins, ()),
    (pins.followers, ()),
    (pins.pinned_operations, ("batches", "routings", "machines", "routing_machines")),
    (spreads.turns_rise, ()),
    (spreads.chances, ()),
    (booked.of_no_group, ()),
    (booked.of_another_group, ()),
    (booked.still_to_come, ()),
    (booked.unknown_processes, ("processes",)),
    (orders.reserved_for_other_part, ("structure",)),
    (months.forecast_of_what_is_not_made, ("parts",)),
    (months.learning_without_end, ()),
    (months.bars_too_short, ()),
)


def all_faults(tables: Tables) -> Iterator[Fault]:
    """Every fault that shows only when tables are seen together."""
    for check, needed in CHECKS:
        if not tables.unread.intersection(needed):
            yield from check(tables)
