# Answers each line of compare_statistics with SciPy and prints the greatest relative difference of each method.
#   python3 compare-statistics.py LINES
import sys

import numpy
import scipy
from scipy import stats


def two_by_two(v):
    return [[v[0], v[1] - v[0]], [v[2], v[3] - v[2]]]


def wilson(v):
    interval = stats.binomtest(int(v[0]), int(v[1])).proportion_ci(0.95, "wilson")
    return [interval.low, interval.high]


def exact(v):
    interval = stats.binomtest(int(v[0]), int(v[1])).proportion_ci(1 - v[2], "exact")
    return [interval.low, interval.high]


def binomial(v):
    return [stats.binom.sf(v[0] - 1, v[1], v[2]), stats.binom.cdf(v[0], v[1], v[2])]


def fisher(v):
    return [stats.fisher_exact(two_by_two(v), side)[1] for side in ("less", "greater", "two-sided")]


def yates(v):
    return stats.chi2_contingency(two_by_two(v), correction=True)[:2]


def table(v):
    counts = numpy.reshape(v[2:], (int(v[0]), int(v[1])))
    pearson = stats.chi2_contingency(counts, correction=False)
    likelihood = stats.chi2_contingency(counts, correction=False, lambda_="log-likelihood")
    expected = pearson[3][0][0]
    total = counts.sum()
    residual = (counts[0][0] - expected) / numpy.sqrt(
        expected * (1 - counts[0].sum() / total) * (1 - counts[:, 0].sum() / total))
    return [pearson[0], pearson[1], likelihood[0], likelihood[1], residual]


def moments(v):
    return [numpy.mean(v), numpy.std(v, ddof=1)]


answers = {"wilson": wilson, "exact": exact, "binomial": binomial, "fisher": fisher, "yates": yates, "table": table,
           "moments": moments}
limits = {"exact": 1e-8}  # SciPy searches for these ends to about 2e-12, whatever their size
worst, counted, where = {}, {}, {}
for line in open(sys.argv[1], encoding="ascii"):
    method, inputs, ours = line.strip().split(";")
    if method not in answers:
        continue
    theirs = answers[method]([float(x) for x in inputs.split(",")])
    for mine, other in zip([float(x) for x in ours.split(",")], theirs):
        none = (mine == 0 and abs(other) < 1e-12) or (abs(mine) < 1e-290 and abs(other) < 1e-290)
        off = 0 if none else abs(mine - other) / max(abs(other), 1e-300)
        if off >= worst.get(method, 0):
            worst[method], where[method] = off, line.strip()
        counted[method] = counted.get(method, 0) + 1
print("SciPy", scipy.__version__)
bad = False
for method, off in worst.items():
    limit = limits.get(method, 1e-9)
    print(f"{method:12} {counted[method]:6} answers, greatest relative difference {off:.1e} (at most {limit:.0e})")
    if not off <= limit:
        bad = True
        print("    ", where[method])
sys.exit(bad)
