#!/usr/bin/env python3
"""Points curves by another implementation: scipy's PCHIP. Prints the table pchip.csv.

    /usr/bin/python3 pchip.py > pchip.csv

The curves are invented; each is read at its points and at eighths of every stretch between them.
Needs scipy (Debian: python3-scipy).
"""
import scipy
from scipy.interpolate import PchipInterpolator

CURVES = {
    "two points": [(0, 10), (60, 0)],
    "three, falling": [(30, 10), (60, 6), (240, 0)],
    "three, one flat stretch": [(0, 0), (0.5, 0), (1, 10)],
    "three, a peak": [(0.8, 0), (1, 10), (1.1, 0)],
    "three, end slope of the other sign": [(0, 0), (1, 1), (2, 10)],
    "three, end slope held at three times": [(0, 5), (1, 5.5), (1.05, 0)],
    "loudness": [(55, 10), (65, 8), (75, 5), (85, 2), (95, 0)],
    "left share": [(0, 10), (0.01, 9.5), (0.02, 8), (0.05, 5), (0.173, 1), (0.5, 0)],
    "plateaus": [(0, 0), (1, 0), (2, 3), (3, 3), (4, 10), (5, 10)],
    "up and down": [(-3, 2), (-1, 7), (0, 4), (2, 9), (7, 1), (7.5, 1.5)],
    "very uneven": [(0, 0), (0.001, 1), (1000, 2), (1000.5, 9), (1e6, 10)],
    "tiny x": [(1e-9, 0), (2e-9, 4), (5e-9, 9), (6e-9, 10)],
    "negative x, steep end": [(-40, 10), (-39, 9.9), (-20, 9.5), (-19.9, 0)],
}

print(f"# Points curves by scipy {scipy.__version__}, interpolate.PchipInterpolator; made by pchip.py. The curves are invented.")
print("# points: x y pairs. slope: the derivative at x.")
print("curve,points,x,y,slope")
for name, points in CURVES.items():
    f = PchipInterpolator([p[0] for p in points], [p[1] for p in points])
    slope = f.derivative()
    words = " ".join(f"{float(x)!r} {float(y)!r}" for x, y in points)
    xs = [a + (b - a) * k / 8 for (a, _), (b, _) in zip(points, points[1:]) for k in range(8)]
    for x in xs + [points[-1][0]]:
        print(f'"{name}",{words},{float(x)!r},{float(f(x))!r},{float(slope(x))!r}')
