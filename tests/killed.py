"""Runs a job over and over in a process of its own and kills it at moments drawn by lot."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

# argument 1: the folder; argument 2: how many moments; argument 3: the longest wait in seconds.
# The job runs in children that inherit what was loaded; after each kill the folder is looked at.
AROUND = """
import os, random, signal, sys, time
from pathlib import Path
here, moments, longest = Path(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3])
draw = random.Random(1)
{prepare}

def job(turn):
{job}

def look():
{look}

job(0)
look()
for moment in range(moments):
    child = os.fork()
    if not child:
        turn = 0
        while True:
            turn += 1
            job(turn)
    time.sleep(draw.uniform(0, longest))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    look()
print("whole", moments)
"""


def killed_at(moments: int, longest: float, folder: Path, prepare: str, job: str, look: str) -> str:
    """Return what the script printed: ``whole 20`` where every look found everything whole."""
    script = AROUND.format(prepare=prepare, job=indented(job), look=indented(look))
    done = subprocess.run(
        [sys.executable, "-c", script, str(folder), str(moments), str(longest)],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout.strip() or done.stderr[-1500:]


def indented(lines: str) -> str:
    """Return lines as the body of a function."""
    return "\n".join(f"    {line}" for line in lines.strip().splitlines())
