"""The pinned packages against published advisories: ``python -m bench.audit [constraints.txt]``.

Ends with 1 where a pin is known to be vulnerable. Where advisories cannot be asked, all or some, it
says which pins nobody looked at and ends with 0: a machine without a network can still test.
"""

import json
import subprocess
import sys
from collections.abc import Mapping, Sequence
from typing import Any

PATIENCE_S = 60.0


def main() -> None:
    pins = sys.argv[1] if len(sys.argv) > 1 else "constraints.txt"
    code, lines = verdict(asked(pins))
    print("\n".join(lines))
    sys.exit(code)


def asked(pins: str) -> Mapping[str, Any] | str:
    """Return what the advisories say of the pins of a file, or why nothing was said."""
    command = [sys.executable, "-m", "pip_audit", "-r", pins, "--no-deps", "--disable-pip"]
    try:
        ran = subprocess.run(
            [*command, "-f", "json", "--progress-spinner", "off"],
            capture_output=True, text=True, check=False, timeout=PATIENCE_S,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return f"no answer within {PATIENCE_S:g} s"
    try:
        said: Mapping[str, Any] = json.loads(ran.stdout)
    except json.JSONDecodeError:
        return (ran.stderr.strip().splitlines() or ["nothing was said"])[-1]
    return said


def verdict(said: Mapping[str, Any] | str) -> tuple[int, Sequence[str]]:
    """Return the exit code and the lines to print."""
    if isinstance(said, str):
        return 0, [f"dependencies: NOT AUDITED, advisories could not be asked: {said}"]
    wrong = [
        f"{one['name']} {one['version']}: {', '.join(fault['id'] for fault in one['vulns'])}"
        f"; mended in {_mended(one['vulns'])}"
        for one in said["dependencies"]
        if one.get("vulns")
    ]
    unasked = [one["name"] for one in said["dependencies"] if "skip_reason" in one]
    lines = [f"dependencies: VULNERABLE {line}" for line in wrong]
    if unasked:
        lines.append(f"dependencies: NOT AUDITED, no advisories here for {', '.join(unasked)}")
    looked_at = len(said["dependencies"]) - len(unasked)
    lines.append(f"dependencies: {looked_at} pins looked at, {len(wrong)} known to be vulnerable")
    return int(bool(wrong)), lines


def _mended(faults: Sequence[Mapping[str, Any]]) -> str:
    return ", ".join(sorted({one for fault in faults for one in fault["fix_versions"]})) or "none"


if __name__ == "__main__":
    main()
