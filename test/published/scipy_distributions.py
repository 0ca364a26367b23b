"""Asks scipy.stats: a list of jobs as JSON on standard input, a list of answers on standard output.

A job is {"ask": NAME, ...}: "fit" (a family's parameters by maximum likelihood, log likelihood, quantiles), "lognormal" (of given parameters), "anova"
(f_oneway), "levene" (centre: median), "welch" (ttest_ind), "tukey" (studentized_range), "anderson".
"""

import json
import sys

import numpy as np
from scipy import stats

FAMILIES = {
    "normal": (stats.norm, {}),
    "lognormal": (stats.lognorm, {"floc": 0}),
    "weibull": (stats.weibull_min, {"floc": 0}),
    "gamma": (stats.gamma, {"floc": 0}),
    "largest-extreme-value": (stats.gumbel_r, {}),
    "smallest-extreme-value": (stats.gumbel_l, {}),
}


def fit(job):
    family, fixed = FAMILIES[job["family"]]
    values = np.array(job["values"])
    parameters = family.fit(values, **fixed)
    return {
        "parameters": list(parameters),
        "logLikelihood": float(np.sum(family.logpdf(values, *parameters))),
        "quantiles": [float(family.ppf(p, *parameters)) for p in job["p"]],
        "tails": [float(family.sf(x, *parameters)) for x in job["x"]],
        "densities": [float(family.pdf(x, *parameters)) for x in job["x"]],
    }


def lognormal(job):
    law = stats.lognorm(job["sigma"], loc=job["threshold"], scale=np.exp(job["mu"]))
    return {
        "logLikelihood": float(np.sum(law.logpdf(job["values"]))),
        "quantiles": [float(law.ppf(p)) for p in job["p"]],
        "tails": [float(law.sf(x)) for x in job["x"]],
        "densities": [float(law.pdf(x)) for x in job["x"]],
    }


def anova(job):
    F, p = stats.f_oneway(*job["groups"])
    return {"F": float(F), "p": float(p)}


def levene(job):
    F, p = stats.levene(*job["groups"], center="median")
    return {"F": float(F), "p": float(p)}


def welch(job):
    t, p = stats.ttest_ind(*job["groups"], equal_var=False)
    return {"t": float(t), "p": float(p)}


def tukey(job):
    k, df = job["k"], job["df"]
    return {
        "cdf": [float(stats.studentized_range.cdf(q, k, df)) for q in job["q"]],
        "quantiles": [float(stats.studentized_range.ppf(p, k, df)) for p in job["p"]],
    }


def anderson(job):
    return {"A2": float(stats.anderson(np.array(job["values"]), job["dist"]).statistic)}


JOBS = {f.__name__: f for f in (fit, lognormal, anova, levene, welch, tukey, anderson)}

if __name__ == "__main__":
    json.dump([JOBS[job["ask"]](job) for job in json.load(sys.stdin)], sys.stdout)
