"""Runs alone as a child process: takes its bounds, then runs the reader that it was given."""

import json
import resource
import runpy
import sys


def confine(limits: dict[str, int]) -> None:
    """Bounds that the system enforces; no file may be written and none is left of a crash."""
    for kind, most in (
        (resource.RLIMIT_AS, limits["memory"]),
        (resource.RLIMIT_CPU, limits["seconds"]),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        try:
            resource.setrlimit(kind, (most, most))
        except (ValueError, OSError):  # a platform without this limit: the others still hold
            continue


if __name__ == "__main__":
    sys.argv = sys.argv[1:]
    confine(json.loads(sys.argv[1]))
    runpy.run_path(sys.argv[0], run_name="__main__")
