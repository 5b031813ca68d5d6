"""Time the inbox beside a bare read of the same files.

    python workflow/benchmarks/inbox.py [--readings 1000000] [--files 1000] [--bad 0.01] [--jobs 2]

Makes an invented inbox in a temporary folder, takes it in by the command, and prints a table: wall and processor
seconds, peak memory of the command and its children together (proportional set size, so that shared pages count once),
the ratio to `pandas.read_csv` of every file with its separator, encoding and decimal mark known beforehand, and the
ledger beside what was written. Ends with status 1 when the ledger is not what was written. Memory needs /proc.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from invented_inbox import Made, make_inbox
from printed import seconds_text, table

EVERY = 0.3
"""Seconds between two looks at the memory."""
BARE = """
import json, resource, sys, time
import pandas as pd
files = json.load(open(sys.argv[1]))
start = time.perf_counter(), time.process_time()
rows = sum(len(pd.read_csv(path, sep=sep, encoding=code, decimal=mark)) for path, sep, code, mark in files)
spent = time.perf_counter() - start[0], time.process_time() - start[1]
print(json.dumps([*spent, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, rows]))
"""


def _memory_mb(process: int) -> float:
    """Return the proportional set size of a process and all below it, in megabytes."""
    waiting, total = [process], 0
    while waiting:
        one = Path(f"/proc/{waiting.pop()}")
        try:
            lines = (one / "smaps_rollup").read_text().splitlines()
            total += next(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
            for task in (one / "task").iterdir():
                waiting += map(int, (task / "children").read_text().split())
        except (OSError, StopIteration):
            continue
    return total / 1024


def measured(command: list[str]) -> tuple[float, float, float]:
    """Run a command; return its wall and processor seconds and its peak memory in megabytes, children included."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    peak, over = [0.0], threading.Event()

    def look() -> None:
        while not over.wait(EVERY):
            peak[0] = max(peak[0], _memory_mb(process.pid))

    watcher = threading.Thread(target=look)
    watcher.start()
    _, status, usage = os.wait4(process.pid, 0)
    over.set()
    watcher.join()
    if status:
        raise SystemExit(f"the command ended with status {os.waitstatus_to_exitcode(status)}")
    return time.perf_counter() - start, usage.ru_utime + usage.ru_stime, peak[0]


def bare(made: Made, folder: Path) -> tuple[float, float, float]:
    """Return what a bare read of the files takes, in a process of its own, its start not counted."""
    files = [[str(path), one.separator, one.encoding, "," if one.comma else "."] for path, one in made.files.items()]
    (folder / "files.json").write_text(json.dumps(files))
    done = subprocess.run(
        [sys.executable, "-c", BARE, folder / "files.json"], capture_output=True, text=True, check=True
    )
    wall, cpu, peak, rows = json.loads(done.stdout)
    if rows != made.rows:
        raise SystemExit(f"the bare read found {rows} rows, {made.rows} were written")
    return wall, cpu, peak


def adds_up(made: Made, total: dict[str, int]) -> bool:
    """Tell whether a ledger's total is what was written: every row read, the spoilt ones and no others returned."""
    spoilt = sum(made.spoilt.values())
    others = sum(total[fate] for fate in ("aside", "superseded", "withdrawn", "duplicate"))
    expected = (made.rows, spoilt, made.rows - spoilt)
    return others == 0 and (total["rows_read"], total["rejected"], total["accepted"]) == expected


def main() -> int:
    """Make the inbox, run both, print."""
    parser = argparse.ArgumentParser(description="Time the inbox beside a bare read of the same files.")
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument("--files", type=int, default=1_000)
    parser.add_argument("--bad", type=float, default=0.01, help="share of the rows of feet that are spoilt")
    parser.add_argument("--jobs", type=int, default=2, help="processes of the inbox")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = make_inbox(folder / "inbox", args.readings, args.files, args.bad)
        command = [sys.executable, "-m", "hoofcohort", "inbox", str(folder / "inbox"), "--out", str(folder / "out")]
        ours = measured([*command, "--jobs", str(args.jobs)])
        theirs = bare(made, folder)
        total = json.loads((folder / "out/ledger.json").read_text())["total"]
        letters = len(list((folder / "out/letters").glob("*.html")))
    print(f"{made.readings:,} readings in {len(made.files):,} files, {made.rows:,} rows; {args.jobs} processes; "
          f"Python {platform.python_version()} on {platform.machine()}, {os.cpu_count()} cores\n")  # fmt: skip
    rows = [
        ["inbox", seconds_text(ours[0]), seconds_text(ours[1]), f"{ours[2]:.0f} MB", f"{ours[1] / theirs[1]:.1f}"],
        ["bare read", seconds_text(theirs[0]), seconds_text(theirs[1]), f"{theirs[2]:.0f} MB", "1"],
    ]
    print(table(["", "wall", "processor", "peak memory", "ratio of processor time"], rows))
    print(f"\nspoilt: {', '.join(f'{count} {how}' for how, count in sorted(made.spoilt.items()))}")
    print(f"ledger: {', '.join(f'{count} {fate}' for fate, count in total.items())}; {letters} letters")
    right = adds_up(made, total)
    print("The ledger is what was written." if right else "THE LEDGER IS NOT WHAT WAS WRITTEN.")
    return 0 if right else 1


if __name__ == "__main__":
    sys.exit(main())
