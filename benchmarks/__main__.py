"""Run the `main()` of every benchmark, or of those named on the command line."""

import importlib
import pkgutil
import sys

import benchmarks


def main() -> None:
    """Run them one after another."""
    names = sorted(module.name for module in pkgutil.iter_modules(benchmarks.__path__) if module.name != "__main__")
    for name in sys.argv[1:] or names:
        if name not in names:
            sys.exit(f"no benchmark is called {name!r}; there are {', '.join(names)}")
        print(f"\n## {name}\n", flush=True)
        importlib.import_module(f"benchmarks.{name}").main()


main()
