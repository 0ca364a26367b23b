"""Orifice plates by python3-fluids: lists of plates as JSON on standard input, numbers on standard output.

Coefficients by Reader-Harris and Gallagher, expansibilities, and whole flows at a given pressure drop, each by the library's
own functions.
"""

import json
import sys
from math import pi

from fluids.flow_meter import (
    C_Reader_Harris_Gallagher,
    differential_pressure_meter_solver,
    orifice_expansibility,
)

TAPS = {"corner": "corner", "flange": "flange", "d-d2": "D and D/2"}
DENSITY = 1.2
VISCOSITY = 1.8e-5


def coefficient(plate):
    pipe = plate["pipe_m"]
    flow = plate["reynolds"] * pi * pipe * VISCOSITY / 4
    return C_Reader_Harris_Gallagher(
        D=pipe, Do=plate["beta"] * pipe, rho=DENSITY, mu=VISCOSITY, m=flow, taps=TAPS[plate["taps"]]
    )


def expansibility(plate):
    p1 = 1e5
    return orifice_expansibility(D=1.0, Do=plate["beta"], P1=p1, P2=plate["ratio"] * p1, k=plate["heatRatio"])


def mass_flow(plate):
    return differential_pressure_meter_solver(
        D=plate["pipe_m"],
        D2=plate["bore_m"],
        P1=plate["upstream_Pa"],
        P2=plate["upstream_Pa"] - plate["drop_Pa"],
        rho=plate["density_kg_m3"],
        mu=plate["viscosity_Pa_s"],
        k=1.4,
        meter_type="ISO 5167 orifice",
        taps=TAPS[plate["taps"]],
    )


job = json.load(sys.stdin)
json.dump(
    {
        "coefficients": [coefficient(plate) for plate in job["coefficients"]],
        "expansibilities": [expansibility(plate) for plate in job["expansibilities"]],
        "massFlows_kg_s": [mass_flow(plate) for plate in job["flows"]],
    },
    sys.stdout,
)
