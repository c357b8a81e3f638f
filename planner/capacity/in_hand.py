"""Work in hand by month: what is left of every batch, where it falls before levelling.

The same minutes as ``batchwright load --as latest`` has, by month in place of week, with what should have been done before the plan start
in the first month. No plan is asked for: each step is on the first machine that can do it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence

import numpy as np

from planner.answers.feeds import Feeds
from planner.capacity.adding import GROUP, SKILL, Resource
from planner.capacity.demand import skill_of
from planner.capacity.latest import at_latest
from planner.capacity.tally import Periods
from planner.work import Span, Work

Minutes = dict[Resource, np.ndarray]  # by group or skill, one figure a month


class InHand:
    """Minutes by batch, worked out once for one ``Work``.

    Parameters
    ----------
    months
        One after another in minutes from the plan start, the first from 0 on.
    """

    def __init__(self, work: Work, months: Sequence[Span]) -> None:
        self._work, self._feeds, self._size = work, Feeds(work), len(months)
        self._of_batch: defaultdict[int, Minutes] = defaultdict(dict)
        periods = Periods([(str(m), span) for m, span in enumerate(months)])
        for demand in at_latest(work):
            op = work.operations[demand.operation]
            into = self._of_batch[op.batch]
            for span in demand.spent:
                keys: list[Resource] = []
                if span.machine is not None:
                    keys.append((GROUP, work.groups[work.machines[span.machine].group].name))
                if (skill := skill_of(op, span)) is not None:
                    keys.append((SKILL, work.skills[skill]))
                for period, minutes in periods.spread([(span.start, span.end)]).items():
                    for key in keys:
                        into.setdefault(key, np.zeros(self._size))[max(0, period - 1)] += minutes

    def minutes(self, without: Collection[str] = ()) -> tuple[Minutes, Minutes]:
        """Core work, and own products.

        Parameters
        ----------
        without
            Parts ordered: batches that feed orders for these, and no others, are left out.
        """
        core, own = (defaultdict[Resource, np.ndarray](lambda: np.zeros(self._size)) for _ in range(2))
        for batch, found in self._of_batch.items():
            orders = self._feeds.orders(batch)
            if orders and all(o.part in without for o in orders):
                continue
            into = own if self._work.batches[batch].own_product else core
            for key, minutes in found.items():
                into[key] = into[key] + minutes
        return dict(core), dict(own)
