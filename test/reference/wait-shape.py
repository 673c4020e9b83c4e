"""Law of D against U(start, start + 1) whose start is fitted by the mean: quantiles of D (√n + 0.26 + 0.15/√n).

Prints them for 100 and 1,000 values; `src-shared/latency/wait-shape.ts` holds their means. Run by hand: a minute.
"""
import numpy as np

CHANCES = [0.999, 0.99, 0.9, 0.75, 0.5, 0.25, 0.1, 0.05, 0.025, 0.01, 0.005, 0.002, 0.001]
rng = np.random.default_rng(7)
for n, draws in [(100, 400_000), (1000, 150_000)]:
    distances = []
    size = 1_000_000 // n
    for _ in range(draws // size):
        values = np.sort(rng.random((size, n)), axis=1)
        expected = np.clip(values - values.mean(1, keepdims=True) + 0.5, 0, 1)
        rank = np.arange(1, n + 1) / n
        distances.append(np.maximum((rank - expected).max(1), (expected - rank + 1 / n).max(1)))
    quantiles = np.quantile(np.concatenate(distances), [1 - p for p in CHANCES])
    print(n, np.round(quantiles * (np.sqrt(n) + 0.26 + 0.15 / np.sqrt(n)), 4))
