"""Batch scheduler and machine-capacity planner for a small machine shop."""

__version__ = "0.1.0"
