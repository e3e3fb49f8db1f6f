"""Change the pure modules on purpose, one small thing at a time, and count how many changes the tests notice.

`make mutants` runs this; docs/mutants.md tells what came of it. mutmut makes the changes and runs the tests that reach
each of them; pyproject.toml names the modules and the tests.
"""

import re
import subprocess
import sys
from collections import Counter, defaultdict
from pathlib import Path

MUTMUT = Path(sys.executable).with_name("mutmut")
LINE = re.compile(r"\s*(?P<module>camerawright(\.\w+)*)\.(?P<change>x\S+): (?P<status>[\w ]+)")
NOTICED = {"killed", "timeout", "suspicious", "segfault"}


def main(which: str) -> None:
    """Try the changes whose names match a pattern, then print a score for each module and every change that passed."""
    subprocess.run([MUTMUT, "run", "--max-children", "2", which], check=True)
    listed = subprocess.run([MUTMUT, "results", "--all", "true"], check=True, capture_output=True, text=True).stdout
    tried = [found for line in listed.splitlines() if (found := LINE.match(line)) and found["status"] != "not checked"]
    counts: dict[str, Counter[bool]] = defaultdict(Counter)
    for one in tried:
        counts[one["module"]][one["status"] in NOTICED] += 1
    print("\n| module | changes tried | noticed | score |\n|---|---|---|---|")
    for module, count in sorted([*counts.items(), ("all", sum(counts.values(), Counter()))]):
        print(f"| {module} | {count.total()} | {count[True]} | {count[True] / count.total():.0%} |")
    print("\nNot noticed; `mutmut show NAME` prints the change:")
    for one in tried:
        if one["status"] not in NOTICED:
            print(f"  {one['module']}.{one['change']}  {one['status']}")


if __name__ == "__main__":
    main(sys.argv[1])
