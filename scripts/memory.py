"""How much memory this process has used, for the benches."""

from __future__ import annotations

import sys


def memory_mb() -> float | None:
    """Most memory used so far, in megabytes; None where the system does not tell."""
    if sys.platform == "win32":
        return None
    import resource

    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return used / (1024 * 1024 if sys.platform == "darwin" else 1024)
