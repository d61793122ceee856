#!/usr/bin/python3
"""Writes water_iapws.csv: saturation pressure and density of water by the
general steam table library `iapws` (GPL; Debian package python3-iapws), which
implements IAPWS-IF97.

Run: /usr/bin/python3 make_water_table.py   (in this folder)
"""
import csv

from iapws import IAPWS97

SOURCE = "IAPWS-IF97 by the iapws library (Debian python3-iapws)"
with open("water_iapws.csv", "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["id", "quantity", "inputs", "expected", "unit", "tolerance", "source", "confidence"])
    for t in [5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100]:
        p = IAPWS97(T=t + 273.15, x=0).P * 1e4
        w.writerow([f"IS{t}", "saturation-pressure", f"c={t}", f"{p:.6g}", "mbar", "1%", SOURCE, "H"])
    for t in [4, 10, 20, 30, 40, 50, 60, 70, 80, 85, 90, 95]:
        rho = IAPWS97(T=t + 273.15, P=0.101325).rho
        w.writerow([f"ID{t}", "water-density", f"c={t}", f"{rho:.7g}", "kg/m3", "0.05%", SOURCE, "H"])
    cold = IAPWS97(T=283.15, P=0.25).rho
    for t in [40, 50, 60, 70, 80, 90, 100, 110]:
        e = 100 * (cold / IAPWS97(T=t + 273.15, P=0.25).rho - 1)
        w.writerow([f"IE{t}", "water-expansion", f"cold_c=10 hot_c={t}", f"{e:.5g}", "%", "0.02", SOURCE, "H"])
