"""Prints the oldest version of each dependency that pyproject.toml allows, as constraints for pip."""

import re
import sys
import tomllib
from pathlib import Path

BOUND = re.compile(r"([\w.-]+)(?:\[[\w,]+\])?>=([\w.]+)")
project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
wanted = {*project["dependencies"], *project["optional-dependencies"]["test"]}
for one in sorted(wanted):
    found = BOUND.fullmatch(one)
    if found is None:
        sys.exit(f"{one}: expected a lower bound and nothing else")
    sys.stdout.write(f"{found[1]}=={found[2]}\n")
