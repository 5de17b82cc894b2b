"""Writes tukey.csv: the studentized range by scipy. Run: python3 tukey.py > tukey.csv"""
import math

import scipy
from scipy.stats import studentized_range as sr

print("# studentized range, scipy.stats.studentized_range of scipy", scipy.__version__)
print("# written by tukey.py; kind ppf: given p, value is q; kind cdf: given q, value is p")
print("kind,given,groups,dof,value")
dofs = [1, 2, 3, 5, 7.5, 10, 40, 120, 1000, math.inf]
for k in (2, 3, 5, 10, 20, 60, 200, 600):
    for v in dofs:
        for p in (0.5, 0.9, 0.95, 0.99):
            print(f"ppf,{p},{k},{v},{float(sr.ppf(p, k, v))!r}")
        for q in (1.5, 3, 5, 9):
            print(f"cdf,{q},{k},{v},{float(sr.cdf(q, k, v))!r}")
