"""The optics of a camera's page by a general numerical library's adaptive quadrature, timed and compared.

Run by `benches/compare`, which gives the program's path: the same values are asked of `shimlight calc`, and this ends with
a failure where they disagree.
"""

import json
import subprocess
import sys
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


def point_spread(d, rho):
    """Intensity against no plate at all, adaptive quadrature of both parts of the amplitude."""
    a = d / 2
    u, v = 2 * np.pi * a * a / (LAMBDA * V), 2 * np.pi * a * rho / (LAMBDA * V)
    part = lambda f: integrate.quad(lambda t: f(u * t * t / 2) * special.j0(v * t) * t, 0, 1, epsabs=1e-12, limit=400)[0]
    return u * u * (part(np.cos) ** 2 + part(np.sin) ** 2)


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


def ask(program, cases):
    """The program's own answers, by case."""
    lines = "\n".join(json.dumps({"id": name, "quantity": quantity, "given": given}) for name, quantity, given in cases)
    done = subprocess.run([*program, "calc", "-"], input=lines, capture_output=True, text=True, check=True)
    return {answer["id"]: answer["values"] for answer in map(json.loads, done.stdout.splitlines())}


def main(program):
    print("scipy, adaptive quadrature (QUADPACK), one core")
    timed("one transfer value, hole 0.48 mm, 120 mm", transfer, 0.48, 2.0, times=200)
    timed("one edge slope, nested quadrature", slope, 0.48, times=5)
    timed("one edge slope, chords and Fresnel integrals", slope_by_chords, 0.48, times=200)
    pages = [
        timed("a page's optics (without the field), nested quadrature", page, slope),
        timed("a page's optics (without the field), chords and Fresnel integrals", page, slope_by_chords),
    ]

    camera = {"hole_to_film_mm": V, "wavelength_nm": LAMBDA * 1e6}
    holes = (0.05, 0.2, 0.48, 1.5, 5.0)
    cases = [("sharpest", "sharpest_hole", camera)]
    for d in holes:
        for part in (0.01, 0.05, 0.3, 0.8, 1.2):
            nu = part * d / (LAMBDA * V)
            cases.append((f"otf {d} {part}", "transfer", camera | {"hole_diameter_mm": d, "frequency_per_mm": nu}))
        for rho in (0.0, 0.3 * d, 0.6 * d):
            cases.append((f"psf {d} {rho}", "point_spread", camera | {"hole_diameter_mm": d, "radius_mm": rho}))
    answers = ask(program, cases)

    worst, wrong = {}, []

    def compare(kind, name, ours, theirs, allowed):
        off = abs(ours - theirs)
        worst[kind] = max(worst.get(kind, 0.0), off)
        if not off <= allowed:
            wrong.append(f"{name}: shimlight {ours}, scipy {theirs}, off by more than {allowed}")

    ours = answers["sharpest"]
    for hole, (least, greatest), curve in pages:
        # both maxima are flat: the hole is searched to 1e-4 of C by each
        compare("sharpest hole, mm", "sharpest hole", ours["hole_diameter_mm"], hole, 1e-4)
        compare("ends of the tolerance, mm", "least hole", ours["within_a_tenth_from_mm"], least, 1e-4)
        compare("ends of the tolerance, mm", "greatest hole", ours["within_a_tenth_to_mm"], greatest, 1e-4)
    for nested, chords in zip(pages[0][2], pages[1][2]):
        compare("edge slope, nested against chords, share", "edge slope", nested / chords, 1.0, 1e-5)
    for name, quantity, given in cases[1:]:
        d = given["hole_diameter_mm"]
        if quantity == "transfer":
            compare("transfer", name, answers[name]["otf"], transfer(d, given["frequency_per_mm"]), 1e-8)
        else:
            compare("point spread", name, answers[name]["relative_intensity"], point_spread(d, given["radius_mm"]), 1e-7)

    print("greatest difference between shimlight and scipy")
    for kind, off in worst.items():
        print(f"  {kind}: {off:.1e}")
    if wrong:
        sys.exit("\n".join(wrong))
    print(f"all {len(cases)} cases agree")


if __name__ == "__main__":
    main(sys.argv[1:])
