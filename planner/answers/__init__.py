"""Answers read off a plan: pure functions of ``Work`` and ``Plan`` that give frozen records.

Each module has one question: ``load`` (hours by week), ``orders`` (when, and why late), ``lists``
(what each machine and person does next), ``kits`` (what an assembly waits for), ``vans`` (what goes
out and comes back). ``rows.as_rows`` turns any of their records into plain dictionaries for JSON.
"""
