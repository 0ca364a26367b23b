"""Comparisons of groups and of paired proportions: jobs as JSON on standard input, answers on standard output.

Welch's analysis of variance is statsmodels'; Tukey and Kramer's pairs are scipy.stats.tukey_hsd; Games and Howell's pairs are
written out here, by scipy's studentized range; McNemar's exact test is statsmodels'.
"""

import json
import sys

import numpy as np
from scipy import stats
from statsmodels.stats.contingency_tables import mcnemar
from statsmodels.stats.oneway import anova_oneway


def welch(groups):
    found = anova_oneway([np.array(group) for group in groups], use_var="unequal", welch_correction=True)
    return {"F": float(found.statistic), "df": [float(x) for x in found.df], "p": float(found.pvalue)}


def tukey(groups):
    found = stats.tukey_hsd(*groups)
    ends = found.confidence_interval(0.95)
    return [
        [float(x[i, j]) for x in (found.statistic, ends.low, ends.high, found.pvalue)]
        for i in range(len(groups))
        for j in range(i + 1, len(groups))
    ]


def games_howell(groups):
    pairs = []
    for i, first in enumerate(groups):
        for second in groups[i + 1 :]:
            a, b = np.var(first, ddof=1) / len(first), np.var(second, ddof=1) / len(second)
            df = (a + b) ** 2 / (a**2 / (len(first) - 1) + b**2 / (len(second) - 1))
            law = stats.studentized_range(len(groups), df)
            difference = np.mean(first) - np.mean(second)
            error = np.sqrt((a + b) / 2)
            reach = law.ppf(0.95) * error
            pairs.append(
                [float(x) for x in (difference, difference - reach, difference + reach, law.sf(abs(difference) / error))]
            )
    return pairs


jobs = json.load(sys.stdin)
json.dump(
    {
        "welch": [welch(groups) for groups in jobs["groups"]],
        "tukey": [tukey(groups) for groups in jobs["groups"]],
        "gamesHowell": [games_howell(groups) for groups in jobs["groups"]],
        "mcnemar": [float(mcnemar([[0, good], [bad, 0]], exact=True).pvalue) for good, bad in jobs["changes"]],
    },
    sys.stdout,
)
