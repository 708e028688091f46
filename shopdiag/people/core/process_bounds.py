"""What a process that reads strangers' data may take at most."""

import contextlib


def bound_process(*, memory_bytes: int, processor_s: int) -> None:
    """Bound this process for good, where the system can.

    Parameters
    ----------
    memory_bytes
        Addresses it may reserve.
    processor_s
        Processor time it may use; beyond it the system ends it.
    """
    with contextlib.suppress(ImportError):
        import resource  # noqa: PLC0415 - not on every system

        for limit, most in (
            (resource.RLIMIT_AS, memory_bytes),
            (resource.RLIMIT_CPU, processor_s),
            (resource.RLIMIT_CORE, 0),
        ):
            with contextlib.suppress(OSError, ValueError):
                resource.setrlimit(limit, (most, most))
