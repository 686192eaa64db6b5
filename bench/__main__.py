"""`python -m bench [name ...]`: run every benchmark, or the named ones, one after another."""

import importlib
import pkgutil
import sys
import traceback
from collections.abc import Callable
from types import ModuleType

import bench


def benchmarks() -> dict[str, ModuleType]:
    """Modules of this package that have a ``main()``, by name."""
    names = sorted(found.name for found in pkgutil.iter_modules(bench.__path__) if found.name != "__main__")
    modules = {name: importlib.import_module(f"bench.{name}") for name in names}
    return {name: module for name, module in modules.items() if callable(getattr(module, "main", None))}


def main(wanted: list[str]) -> int:
    """Run them; the number of those that failed."""
    known = benchmarks()
    unknown = [name for name in wanted if name not in known]
    if unknown:
        print(f"No benchmark {', '.join(unknown)}; there are: {', '.join(known) or 'none'}", file=sys.stderr)
        return len(unknown)
    failed = 0
    for name in wanted or known:
        print(f"\n── {name} ──", flush=True)
        run: Callable[[], object] = known[name].main
        try:
            run()
        except Exception:  # noqa: BLE001 (the others shall still run)
            traceback.print_exc()
            failed += 1
    return failed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
