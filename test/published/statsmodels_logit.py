"""Logistic regressions by statsmodels: jobs as JSON on standard input, answers on standard output.

A job has x, event (0 or 1), a probability, and bounds: for each bound the log-likelihood of the best fit through
(bound, probability) is given, by a binomial GLM without intercept on x - bound, with the logit as its offset.
"""

import json
import sys

import numpy as np
from statsmodels.discrete.discrete_model import Logit
from statsmodels.genmod.families import Binomial
from statsmodels.genmod.generalized_linear_model import GLM


def answer(job):
    x = np.asarray(job["x"], dtype=float)
    event = np.asarray(job["event"], dtype=float)
    fit = Logit(event, np.column_stack([np.ones(len(x)), x])).fit(disp=0, method="newton", maxiter=200, tol=1e-12)
    offset = np.full(len(x), np.log(job["probability"] / (1 - job["probability"])))
    profile = [
        float(GLM(event, (x - bound)[:, None], family=Binomial(), offset=offset).fit(tol=1e-12).llf)
        for bound in job["bounds"]
    ]
    return {
        "params": fit.params.tolist(),
        "bse": fit.bse.tolist(),
        "covariance": float(fit.cov_params()[0][1]),
        "llf": float(fit.llf),
        "llnull": float(fit.llnull),
        "profile": profile,
    }


json.dump([answer(job) for job in json.load(sys.stdin)], sys.stdout)
