"""Distribution of the range of n standard normal values, by SciPy: the studentized range with infinite degrees of freedom,
and c4 by SciPy's gamma function. Reads [[w, n], ...] from standard input, prints {"cdf": [...], "c4": {n: ...}}."""

import json
import sys

import numpy
from scipy.special import gammaln
from scipy.stats import studentized_range

asked = json.load(sys.stdin)
print(
    json.dumps(
        {
            "cdf": [float(studentized_range.cdf(w, n, numpy.inf)) for w, n in asked],
            "c4": {
                str(n): float(numpy.sqrt(2 / (n - 1)) * numpy.exp(gammaln(n / 2) - gammaln((n - 1) / 2)))
                for n in sorted({n for _, n in asked})
            },
        }
    )
)
