"""A simulated shop in which dates are promised by the planner and kept or not: see ``scripts/replay_shop.py``."""
