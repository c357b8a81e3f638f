"""Capacity: what is needed against what there is, what limits the shop, and what more of it would be worth.

Everything here is read off ``Shop``, ``Work`` and ``Plan``; nothing here changes a plan.
"""
