"""Analyses of variance and kappas by statsmodels, for the jobs on standard input."""

import json
import sys

import pandas
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.inter_rater import cohens_kappa, fleiss_kappa


def anova(readings):
    data = pandas.DataFrame(readings)
    crossed = anova_lm(ols("value ~ C(part) * C(appraiser)", data).fit())
    plain = anova_lm(ols("value ~ C(part) + C(appraiser)", data).fit())
    return {
        "sums": [float(x) for x in crossed["sum_sq"]],
        "df": [int(x) for x in crossed["df"]],
        "F_int": float(crossed["F"].iloc[2]),
        "p_int": float(crossed["PR(>F)"].iloc[2]),
        "pooled_MS": float(plain["mean_sq"].iloc[2]),
        "pooled_df": int(plain["df"].iloc[2]),
        "pooled_F": [float(x) for x in plain["F"].iloc[:2]],
        "pooled_p": [float(x) for x in plain["PR(>F)"].iloc[:2]],
    }


def cohen(table):
    found = cohens_kappa(table)
    return {
        "kappa": float(found.kappa),
        "standardError": float(found.std_kappa),
        "interval": [float(found.kappa_low), float(found.kappa_upp)],
    }


jobs = json.load(sys.stdin)
json.dump(
    {
        "anova": [anova(readings) for readings in jobs["anova"]],
        "cohen": [cohen(table) for table in jobs["cohen"]],
        "fleiss": [float(fleiss_kappa(counts)) for counts in jobs["fleiss"]],
    },
    sys.stdout,
)
