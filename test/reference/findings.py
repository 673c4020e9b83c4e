"""Findings of a campaign from true values, written with numpy from their definitions; shares nothing with the program.

Reads JSON on standard input: {"limits": {figure: ["at-most"|"at-least", value]}, "rows": true values a transition:
[{"setting", "refresh", "from", "to", "duration", "overshoot", "settling"}], "dark": code}. Times in s. Prints JSON: means
a sweep, which sweeps keep the limits, spans of usable measured rates, settings usable over the whole range with their
mean over its rates.
"""
import json
import sys

import numpy as np


def figures(rows, refresh, dark):
    duration = np.array([row["duration"] for row in rows])
    overshoot = np.array([row["overshoot"] for row in rows])
    settling = np.array([row["settling"] for row in rows])
    rises = np.array([row["to"] > row["from"] for row in rows])
    is_dark = np.array([row["from"] <= dark and row["to"] <= dark for row in rows])
    return {
        "duration_mean": float(duration.mean()),
        "duration_worst": float(duration.max()),
        "overshoot_mean": float(overshoot.mean()),
        "overshoot_worst": float(overshoot.max()),
        "in_window_share": float(100 * (settling <= 1 / refresh).mean()),
        "dark_mean": float(duration[is_dark].mean()) if is_dark.any() else None,
        "rise_mean": float(duration[rises].mean()),
        "fall_mean": float(duration[~rises].mean()),
    }


def keeps(values, limits):
    return all(values[name] <= at if bound == "at-most" else values[name] >= at for name, (bound, at) in limits.items())


def main():
    task = json.load(sys.stdin)
    rows = task["rows"]
    settings = list(dict.fromkeys(row["setting"] for row in rows))
    rates = sorted({row["refresh"] for row in rows})
    sweeps, usable = [], {}
    for setting in settings:
        flags = []
        for refresh in rates:
            own = [row for row in rows if row["setting"] == setting and row["refresh"] == refresh]
            values = figures(own, refresh, task["dark"])
            flags.append(keeps(values, task["limits"]))
            sweeps.append({"setting": setting, "refresh": refresh, "usable": flags[-1], **values})
        edges = np.flatnonzero(np.diff(np.concatenate(([0], np.array(flags, int), [0]))))
        usable[setting] = [[rates[a], rates[b - 1]] for a, b in edges.reshape(-1, 2)]
    whole = [s for s in settings if usable[s] == [[rates[0], rates[-1]]]]
    mean = {s: float(np.mean([w["duration_mean"] for w in sweeps if w["setting"] == s])) for s in whole}
    json.dump({"sweeps": sweeps, "spans": usable, "whole": sorted(whole, key=mean.get), "whole_mean": mean}, sys.stdout)


main()
