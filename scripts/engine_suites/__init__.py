"""The instances that ``bench_engine.py`` runs, what it compares the search with, and how it keeps and shows results."""
