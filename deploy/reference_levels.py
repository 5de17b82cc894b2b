#!/usr/bin/env python3
"""Levels of a recording by other means than the program's: whole-file transforms and a filter bank.

    reference_levels.py RATE_HZ FULL_SCALE_DB < samples

Standard input is little-endian 64-bit floats, fractions of full scale. Prints one JSON object with
levels in dB re 20 uPa: laeq_db, lceq_db, lzeq_db, lafmax_db, lcpeak_db, and per third-octave band
(25 Hz to 16 kHz, as far as it lies below 0.45 of the rate) fft_db, the energy between the band edges
in one transform of the whole, and butterworth_db, by a filter of order 3. Needs numpy and scipy
(Debian: python3-scipy). Weightings: IEC 61672-1:2013, Annex E, as complex analogue responses.
"""
import json
import sys

import numpy as np
from scipy import signal

POLES = 10**1.5, 10**2.45, 10**3.9  # fL, fA, fH of Annex E, Hz


def poles():
    """The four pole frequencies, from the formulas of Annex E."""
    low, mid, high = POLES
    d2 = 0.5
    b = (1000**2 + low**2 * high**2 / 1000**2 - d2**0.5 * (low**2 + high**2)) / (1 - d2**0.5)
    c = low**2 * high**2
    f1 = ((-b - (b * b - 4 * c) ** 0.5) / 2) ** 0.5
    f4 = ((-b + (b * b - 4 * c) ** 0.5) / 2) ** 0.5
    return f1, (3 - 5**0.5) / 2 * mid, (3 + 5**0.5) / 2 * mid, f4


def weight(hz, a):
    f1, f2, f3, f4 = poles()
    s = 1j * hz
    h = (s / (s + f1)) ** 2 * (f4 / (s + f4)) ** 2
    return h * s * s / ((s + f2) * (s + f3)) if a else h


def main():
    rate, full_scale_db = float(sys.argv[1]), float(sys.argv[2])
    x = np.frombuffer(sys.stdin.buffer.read(), "<f8") * 2**0.5 * 20e-6 * 10 ** (full_scale_db / 20)

    def db(mean_square):
        return float(10 * np.log10(mean_square / 20e-6**2))

    n = len(x)
    padded = 2 * n  # behind the end: what rings on must not come round to the start
    spectrum = np.fft.rfft(x, padded)
    hz = np.fft.rfftfreq(padded, 1 / rate)

    def weighted(a):
        h = weight(hz, a) / abs(weight(np.array([1000.0]), a)[0])
        return np.fft.irfft(spectrum * h, padded)[:n]

    xa, xc = weighted(True), weighted(False)
    k = np.exp(-1 / (0.125 * rate))
    fast = signal.lfilter([1 - k], [1, -k], xa**2)
    out = {
        "laeq_db": db(np.mean(xa**2)),
        "lceq_db": db(np.mean(xc**2)),
        "lzeq_db": db(np.mean(x**2)),
        "lafmax_db": db(fast.max()),
        "lcpeak_db": db(np.max(abs(signal.resample(xc, 8 * n))) ** 2),
        "bands": [],
    }
    power = abs(spectrum) ** 2
    power[1:-1] *= 2
    for band in range(-16, 13):
        mid = 1000 * 10 ** (band / 10)
        low, high = mid * 10**-0.05, mid * 10**0.05
        if high > 0.45 * rate:
            break
        # A bin stands for the band of its own width around it; at an edge it counts in part.
        step = rate / padded
        share = np.clip(np.minimum(hz + step / 2, high) - np.maximum(hz - step / 2, low), 0, step) / step
        fft = np.sum(power * share) / padded / n
        y, r = x, rate
        while high < 0.05 * r:  # a narrow filter at a high rate is numerically poor
            y, r = signal.decimate(y, 4, ftype="fir"), r / 4
        sos = signal.butter(3, [low, high], "bandpass", fs=r, output="sos")
        out["bands"].append({"mid_hz": mid, "fft_db": db(fft), "butterworth_db": db(np.mean(signal.sosfilt(sos, y) ** 2))})
    json.dump(out, sys.stdout)


if __name__ == "__main__":
    main()
