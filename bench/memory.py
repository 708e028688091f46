"""What a process held at most."""

import resource
from pathlib import Path


def peak_mb() -> float:
    """Return this process's peak resident memory in megabytes."""
    status = Path("/proc/self/status")
    if status.exists():
        # getrusage would count what the process that started this one held
        line = next(x for x in status.read_text().splitlines() if x.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
