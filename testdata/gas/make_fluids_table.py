#!/usr/bin/python3
"""Writes pipe_loss_fluids.csv: pressure losses by the general fluid mechanics
library `fluids` (MIT licence; Debian package python3-fluids), an independent
implementation of the friction factor. Laminar and turbulent points only: what
happens between Reynolds 2300 and 4000 is a choice, not a fact.

Run: /usr/bin/python3 make_fluids_table.py   (in this folder)
"""
import csv
import itertools
import math

import fluids
from fluids.friction import friction_factor

SOURCE = f"fluids library {fluids.__version__}, friction_factor, Colebrook-White solved exactly; laminar 64/Re"
FIELDS = ["id", "flow_m3_per_h", "bore_mm", "length_m", "roughness_mm",
          "density_kg_per_m3", "viscosity_pa_s", "drop_mbar", "source", "confidence"]
GASES = [(0.6942, 1.08e-5), (0.735, 1.1e-5), (1.95, 7.9e-6), (2.60, 7.25e-6)]
BORES = [(8.8, 0.0015), (13.6, 0.0015), (20.2, 0.0015), (26.2, 0.0015), (32.6, 0.0015),
         (16.1, 0.046), (27.3, 0.046), (36.0, 0.15), (20.4, 0.0)]
REYNOLDS = [150, 900, 1800, 2250, 4100, 6000, 11000, 25000, 60000]
LENGTHS = [3, 7.5, 12, 30]

with open("pipe_loss_fluids.csv", "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(FIELDS)
    n = 0
    cases = itertools.product(GASES, BORES, REYNOLDS)
    for i, ((rho, mu), (bore, rough), re) in enumerate(cases):
        d = bore / 1000
        # a round flow, so that the table reads well; Reynolds follows from it
        flow = float(f"{re * mu / (rho * d) * math.pi / 4 * d * d * 3600:.4g}")
        v = flow / 3600 / (math.pi / 4 * d * d)
        true_re = rho * v * d / mu
        assert true_re < 2300 or true_re > 4000
        length = LENGTHS[i % len(LENGTHS)]
        if true_re < 2300:
            f = 64 / true_re
        else:
            f = friction_factor(Re=true_re, eD=rough / bore, Method="Colebrook")
        drop = f * length / d * rho * v * v / 2 / 100
        n += 1
        w.writerow([f"F{n}", flow, bore, length, rough, rho, mu, f"{drop:.9g}", SOURCE, "H"])
