"""Fits the station's decay model with scipy.optimize.curve_fit: jobs as JSON on standard input, answers on standard output.

The model is p(t) = c + s L(t) + heat exp(-t / tau) + slow exp(-t / slowTau), with what is known of heat, slow part and
ln(tau) as three more rows of data, and the analytic Jacobian. Where a job asks for repeats, each curve_fit call is timed by
itself, after as many warm-up calls as the job says, with curve_fit's own tolerances, and everything that does not hang on
the parameters made before. The answer is of one call more, with the tightest tolerances.
"""

import json
import sys
import time

import numpy as np
from scipy.integrate import cumulative_trapezoid
from scipy.linalg import cholesky_banded
from scipy.linalg.lapack import dtbtrs
from scipy.optimize import curve_fit


class DecayModel:
    def __init__(self, job):
        know = job["knowledge"]
        self.t = np.array(job["t_s"])
        p = np.array(job["pressure_Pa"])
        self.n = len(self.t)
        pace = np.maximum(p / know["testPressure_Pa"], 1e-3) ** job["pressureExponent"]
        self.leak_time = cumulative_trapezoid(pace, self.t, initial=0)
        self.slow = np.exp(-self.t / know["slowTau_s"])
        spread = job.get("loosening", 1)
        self.known = np.array([know["heat_Pa"], know["slow_Pa"], np.log(know["tau_s"])])
        self.spreads = spread * np.array(
            [know["heatSpread_Pa"], know["slowSpread_Pa"], know["tauSpread_s"] / know["tau_s"]]
        )
        self.offset = p[-1]
        self.y = np.concatenate([p - self.offset, self.known])
        # c, s, heat, slow, ln tau
        self.start = np.array([0, 0, self.known[0], self.known[1], self.known[2]])
        self.jacobian = np.zeros((self.n + 3, 5))
        self.jacobian[: self.n, 0] = 1
        self.jacobian[: self.n, 1] = self.leak_time
        self.jacobian[: self.n, 3] = self.slow
        self.jacobian[self.n, 2] = self.jacobian[self.n + 1, 3] = self.jacobian[self.n + 2, 4] = 1
        self.noise = know["noise"]

    def values(self, _x, c, s, heat, slow, log_tau):
        out = np.empty(self.n + 3)
        decay = np.exp(-self.t * np.exp(-log_tau))
        out[: self.n] = c + s * self.leak_time + heat * decay + slow * self.slow
        out[self.n :] = heat, slow, log_tau
        return out

    def derivatives(self, _x, c, s, heat, slow, log_tau):
        x = self.t * np.exp(-log_tau)
        decay = np.exp(-x)
        self.jacobian[: self.n, 2] = decay
        self.jacobian[: self.n, 4] = heat * decay * x
        return self.jacobian

    def deviations(self):
        """White noise only: one standard deviation per row."""
        return np.concatenate([np.full(self.n, self.noise["white_Pa"]), self.spreads])

    def covariance(self):
        """White and wandering noise: the whole covariance matrix, as curve_fit's documentation asks for."""
        n = self.n
        matrix = np.zeros((n + 3, n + 3))
        apart = np.abs(self.t[:, None] - self.t[None, :])
        matrix[:n, :n] = self.noise["wander_Pa"] ** 2 * np.exp(-apart / self.noise["wanderTau_s"])
        matrix[range(n), range(n)] += self.noise["white_Pa"] ** 2
        matrix[range(n, n + 3), range(n, n + 3)] = self.spreads**2
        return matrix


class FilteredModel(DecayModel):
    """As an expert does it by hand: noise filtered out of data and model before curve_fit sees them.

    Each sample less what the wandering part keeps of the one before leaves noise that is correlated with its neighbours
    only, so that the Cholesky factor of its covariance has two diagonals.
    """

    def __init__(self, job):
        super().__init__(job)
        white = self.noise["white_Pa"] ** 2
        wander = self.noise["wander_Pa"] ** 2
        self.keeps = np.exp(-np.diff(self.t) / self.noise["wanderTau_s"])
        band = np.zeros((2, self.n))
        band[0, 0] = wander + white
        band[0, 1:] = wander * (1 - self.keeps**2) + white * (1 + self.keeps**2)
        band[1, :-1] = -self.keeps * white
        self.factor = cholesky_banded(band, lower=True)
        self.y = self.filtered(self.y[:, None])[:, 0]
        self.fixed = np.asfortranarray(self.filtered(self.jacobian))

    def filtered(self, columns):
        n = self.n
        out = np.array(columns, order="F")
        out[1:n] -= self.keeps[:, None] * columns[: n - 1]
        out[:n] = dtbtrs(self.factor, out[:n], uplo="L")[0]
        out[n:] /= self.spreads[:, None]
        return out

    def values(self, x, *parameters):
        return self.filtered(super().values(x, *parameters)[:, None])[:, 0]

    def derivatives(self, x, *parameters):
        jacobian = super().derivatives(x, *parameters)
        self.fixed[:, 2::2] = self.filtered(jacobian[:, 2::2])
        return self.fixed


def fit(model, sigma, **options):
    x = np.arange(len(model.y))
    return curve_fit(
        model.values, x, model.y, model.start, sigma, absolute_sigma=True, jac=model.derivatives, **options
    )


def answer(job):
    method = job["method"]
    model = (FilteredModel if method == "filtered" else DecayModel)(job)
    sigma = {
        "deviations": model.deviations,
        "covariance": model.covariance,
        "filtered": lambda: np.ones(len(model.y)),
    }[method]()
    seconds = []
    for repeat in range(job.get("repeats", 0) + job.get("warmUps", 0)):
        start = time.perf_counter()
        fit(model, sigma)
        if repeat >= job["warmUps"]:
            seconds.append(time.perf_counter() - start)
    (c, s, heat, slow, log_tau), covariance = fit(model, sigma, ftol=1e-14, xtol=1e-14, gtol=1e-14)
    return {
        "slope_Pa_s": s,
        "slopeUncertainty_Pa_s": np.sqrt(covariance[1, 1]),
        "tau_s": np.exp(log_tau),
        "heat_Pa": heat,
        "slow_Pa": slow,
        "restPressure_Pa": model.offset + c + s * model.leak_time[-1],
        "seconds": seconds,
    }


json.dump([answer(job) for job in json.load(sys.stdin)], sys.stdout)
