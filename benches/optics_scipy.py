"""The optics of a camera's page by a general numerical library's adaptive quadrature.

Run by `benches/compare`. Prints the time of each part and the results, to be held against `cargo bench --bench optics`
and `shimlight calc`.
"""

import time

import numpy as np
from scipy import integrate, optimize, special

V, LAMBDA = 120.0, 550e-6  # mm


def transfer(d, nu):
    """The signed transfer function, adaptive quadrature of the overlap (root taken out by x + s/2 = sin phi)."""
    a = d / 2
    s = LAMBDA * V * nu / a
    if s >= 2:
        return 0.0
    u = 2 * np.pi * a * a / (LAMBDA * V)
    value, _ = integrate.quad(
        lambda phi: np.cos(u * s * (np.sin(phi) - s / 2)) * np.cos(phi) ** 2,
        np.arcsin(s / 2), np.pi / 2, epsabs=1e-10, epsrel=1e-9, limit=200,
    )
    return 4 / np.pi * value


def slope(d):
    """2 times the integral of the transfer function over frequency, nested adaptive quadrature."""
    return 2 * integrate.quad(lambda nu: transfer(d, nu), 0, d / (LAMBDA * V), epsabs=1e-8, epsrel=1e-8, limit=200)[0]


def slope_by_chords(d):
    """The same by the chords of the opening, with the library's own Fresnel integrals."""
    a = d / 2
    u = 2 * np.pi * a * a / (LAMBDA * V)

    def chord(y):
        sin, cos = special.fresnel(np.sqrt((1 - y * y) * u / np.pi))
        return np.pi / u * (sin * sin + cos * cos)

    return 8 * a / (np.pi * LAMBDA * V) * integrate.quad(chord, 0, 1, epsabs=1e-10, epsrel=1e-9)[0]


def page(f):
    scale = np.sqrt(LAMBDA * V)
    found = optimize.minimize_scalar(lambda c: -f(c * scale), bounds=(0.6, 3.0), method="bounded", options={"xatol": 1e-4})
    best, top = found.x, -found.fun
    tolerance = [
        optimize.brentq(lambda c: f(c * scale) - 0.9 * top, *ends, xtol=1e-4) * scale
        for ends in ((0.8, best), (best, 2.4))
    ]
    curve = [f(d) for d in np.linspace(0.12, 1.0, 200)]
    return best * scale, tolerance, curve


def timed(name, f, *arguments, times=1):
    began = time.perf_counter()
    for _ in range(times):
        result = f(*arguments)
    print(f"{name}: {(time.perf_counter() - began) / times * 1e3:.3f} ms")
    return result


print("scipy, adaptive quadrature (QUADPACK), one core")
timed("one transfer value, hole 0.48 mm, 120 mm", transfer, 0.48, 2.0, times=200)
timed("one edge slope, nested quadrature", slope, 0.48, times=5)
timed("one edge slope, chords and Fresnel integrals", slope_by_chords, 0.48, times=200)
hole, (least, greatest), _ = timed("a page's optics, nested quadrature", page, slope)
print(f"  sharpest hole {hole:.5f} mm, within a tenth from {least:.4f} to {greatest:.4f} mm")
hole, (least, greatest), _ = timed("a page's optics, chords and Fresnel integrals", page, slope_by_chords)
print(f"  sharpest hole {hole:.5f} mm, within a tenth from {least:.4f} to {greatest:.4f} mm")
