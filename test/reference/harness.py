"""Runs the jobs of a manifest, and tells seconds of processor time for each instead when asked to."""
import json
import sys
import time

import numpy as np


def main(kinds, warm):
    """`kinds` are functions of a job and its volts; `warm` runs of each go before those that are timed."""
    timed = sys.argv[1] == "--time"
    with open(sys.argv[-1], encoding="utf-8") as file:
        jobs = json.load(file)
    results = []
    for job in jobs:
        kind = kinds[job["kind"]]
        raw = np.fromfile(job["file"], dtype="<f8")
        if not timed:
            results.append(kind(job, raw))
            continue
        for _ in range(warm):
            kind(job, raw)
        runs = job.get("runs", 20)
        start = time.process_time()
        for _ in range(runs):
            kind(job, raw)
        results.append({"processor": (time.process_time() - start) / runs, "runs": runs})
    print(json.dumps(results, default=float))
