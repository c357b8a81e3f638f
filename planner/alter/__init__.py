"""What if: changed copies of a shop, each kind of change a small frozen record, planned again and compared.

``altered(shop, changes)`` is the copy, ``replan(job, changes)`` the comparison.
"""

from planner.alter.apply import Altered, altered
from planner.alter.base import Alteration
from planner.alter.fields import AlterFault, AlterFaults
from planner.alter.kinds import KINDS
from planner.alter.replan import Replanned, replan

__all__ = ["KINDS", "AlterFault", "AlterFaults", "Alteration", "Altered", "Replanned", "altered", "replan"]
