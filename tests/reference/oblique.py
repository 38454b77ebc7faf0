"""Away from the axis, by exact path lengths: writes optics-oblique.jsonl.

Run with numpy and scipy (any recent version):  python3 oblique.py > optics-oblique.jsonl

The transfer function is the overlap of the opening with itself. Here it is integrated over the whole opening in two
dimensions by adaptive quadrature, and each point's path is the straight distance from the subject's plane through the
opening to the film, by Pythagoras in three dimensions. Nothing is expanded: the distances v / cos^3, v / cos, 2R / cos and
2R cos that the program puts in the place of v appear nowhere. A frequency on the film is turned into a shift of the
opening by the slope of the path along the film at the opening's middle, by differences.

Flat film: a plane v behind the plate. Curved film: the wall of a round can of inside radius R, the hole in the wall, the
place on the wall seen under the field angle at the hole's height. The subject is a plane parallel to the plate, or far.
Tangential: along the film away from the middle. Sagittal: across that.
"""

import json

import numpy as np
from scipy import integrate

DEG = np.pi / 180
D55 = {  # CIE 15, relative spectral power every 10 nm
    360: 30.627, 370: 34.314, 380: 32.584, 390: 38.087, 400: 60.949, 410: 68.554, 420: 71.577, 430: 67.914, 440: 85.605,
    450: 97.993, 460: 100.463, 470: 99.913, 480: 102.742, 490: 98.075, 500: 100.677, 510: 100.685, 520: 99.989,
    530: 104.214, 540: 102.099, 550: 102.968,
}


def path(film, size, subject, theta, direction):
    """The path through (x, y) of the opening to the film's place moved by `along`, without its constant part."""
    c, s = np.cos(theta), np.sin(theta)
    if film == "flat":
        place = np.array([size * s / c, 0.0, size])
        step = np.array([1.0, 0.0, 0.0]) if direction == "tangential" else np.array([0.0, 1.0, 0.0])
    else:
        chord = 2 * size * c
        place = np.array([chord * s, 0.0, chord * c])
        # the wall's tangent there: the can's axis stands at (0, R)
        radial = (place - np.array([0.0, 0.0, size])) / size
        step = np.array([radial[2], 0.0, -radial[0]]) if direction == "tangential" else np.array([0.0, 1.0, 0.0])
    if subject is not None:
        source = np.array([-subject * s / c, 0.0, -subject])

    def length(x, y, along=0.0):
        p = place + along * step
        d2 = (p[0] - x) ** 2 + (p[1] - y) ** 2 + p[2] ** 2
        total = np.sqrt(d2)
        if subject is None:
            return total + x * s
        return total + np.sqrt((source[0] - x) ** 2 + (source[1] - y) ** 2 + source[2] ** 2)

    return length


def shift_per_frequency(length, axis):
    """How far apart two points of the opening are whose paths beat with one cycle per mm on the film, over the
    wavelength: one over the mixed second difference of the path."""
    e, f = 1e-3, 1e-3
    at = (lambda t, along: length(t, 0.0, along)) if axis == 0 else (lambda t, along: length(0.0, t, along))
    mixed = (at(e, f) - at(-e, f) - at(e, -f) + at(-e, -f)) / (4 * e * f)
    return 1.0 / abs(mixed)


def otf(case, lam):
    d, theta, direction = case["d"], case["theta"] * DEG, case["direction"]
    length = path(case["film"], case["size"], case.get("subject"), theta, direction)
    axis = 0 if direction == "tangential" else 1
    a, shift = d / 2, shift_per_frequency(length, axis) * lam * case["nu"]
    if shift >= d:
        return 0.0
    k = 2 * np.pi / lam

    def across(t):
        """Integral over the other direction at the place t between the two openings."""
        half = np.sqrt(max(a * a - (abs(t) + shift / 2) ** 2, 0.0))

        def f(w):
            one, two = (t + shift / 2, w), (t - shift / 2, w)
            if axis == 1:
                one, two = one[::-1], two[::-1]
            linear = slope * shift
            return np.cos(k * (length(*one) - length(*two) - linear))

        return integrate.quad(f, -half, half, epsabs=1e-12, epsrel=1e-10, limit=400)[0]

    e = 1e-4
    slope = (length(e, 0) - length(-e, 0)) / (2 * e) if axis == 0 else 0.0
    end = a - shift / 2
    value = integrate.quad(across, -end, end, epsabs=1e-11, epsrel=1e-9, limit=400)[0]
    return value / (np.pi * a * a)


def averaged(case):
    if "lam" in case:
        return otf(case, case["lam"] * 1e-6)
    lo, hi, shape = case["band"]
    if shape == "d55":
        knots = list(range(int(lo), int(hi) + 1, 10))
        weight = lambda nm: np.interp(nm, list(D55), list(D55.values()))
    else:
        knots = [lo, (lo + hi) / 2, hi]
        weight = (lambda nm: 1.0) if shape == "flat" else (lambda nm: 1 - abs(2 * nm - lo - hi) / (hi - lo))
    x, w = np.polynomial.legendre.leggauss(6 if shape == "d55" else 24)
    total = norm = 0.0
    for left, right in zip(knots, knots[1:]):
        for xi, wi in zip(x, w):
            nm = (left + right) / 2 + (right - left) / 2 * xi
            total += wi * (right - left) / 2 * weight(nm) * otf(case, nm * 1e-6)
            norm += wi * (right - left) / 2 * weight(nm)
    return total / norm


CASES = []
for theta in (15, 45, 60, 75):
    for direction in ("tangential", "sagittal"):
        CASES.append(dict(film="flat", d=0.35, size=75, theta=theta, direction=direction, nu=1.0, lam=550))
        CASES.append(dict(film="curved", d=0.33, size=40, theta=theta, direction=direction, nu=1.5, lam=460))
CASES += [
    dict(film="flat", d=0.05, size=10, theta=30, direction="tangential", nu=3.0, lam=400),
    dict(film="flat", d=0.05, size=10, theta=30, direction="sagittal", nu=3.0, lam=400),
    dict(film="flat", d=2.0, size=2000, theta=40, direction="tangential", nu=0.3, lam=650),
    dict(film="flat", d=2.0, size=2000, theta=40, direction="sagittal", nu=0.3, lam=650),
    dict(film="flat", d=5.0, size=2000, theta=20, direction="tangential", nu=0.2, lam=550),
    dict(film="curved", d=0.05, size=5, theta=50, direction="tangential", nu=4.0, lam=550),
    dict(film="curved", d=0.05, size=5, theta=50, direction="sagittal", nu=4.0, lam=550),
    dict(film="curved", d=1.5, size=1000, theta=60, direction="tangential", nu=0.3, lam=550),
    dict(film="curved", d=1.5, size=1000, theta=60, direction="sagittal", nu=0.3, lam=550),
    dict(film="curved", d=0.4, size=60, theta=80, direction="tangential", nu=0.5, lam=550),
    dict(film="curved", d=0.4, size=60, theta=80, direction="sagittal", nu=0.5, lam=550),
    # a near subject in a plane
    dict(film="flat", d=0.4, size=100, theta=35, direction="tangential", nu=1.0, lam=550, subject=300),
    dict(film="flat", d=0.4, size=100, theta=35, direction="sagittal", nu=1.0, lam=550, subject=300),
    dict(film="flat", d=0.3, size=80, theta=25, direction="tangential", nu=1.0, lam=550, subject=100),
    dict(film="curved", d=0.4, size=60, theta=35, direction="tangential", nu=1.0, lam=550, subject=300),
    dict(film="curved", d=0.4, size=60, theta=35, direction="sagittal", nu=1.0, lam=550, subject=300),
    # bands
    dict(film="flat", d=0.35, size=75, theta=40, direction="tangential", nu=1.5, band=(400, 520, "flat")),
    dict(film="flat", d=0.35, size=75, theta=40, direction="sagittal", nu=1.5, band=(400, 520, "triangular")),
    dict(film="flat", d=0.4, size=90, theta=45, direction="tangential", nu=1.0, band=(360, 500, "d55")),
    dict(film="curved", d=0.45, size=60, theta=50, direction="sagittal", nu=1.5, band=(360, 550, "d55")),
    dict(film="curved", d=0.45, size=60, theta=50, direction="tangential", nu=1.5, band=(360, 550, "d55"), subject=1000),
]

for number, case in enumerate(CASES, 1):
    given = {"hole_diameter_mm": case["d"]}
    if case["film"] == "flat":
        given["hole_to_film_mm"] = case["size"]
    else:
        given["inside_radius_mm"] = case["size"]
    if "lam" in case:
        given["wavelength_nm"] = case["lam"]
    else:
        given["spectrum"] = dict(zip(("from_nm", "to_nm", "shape"), case["band"]))
    if "subject" in case:
        given["subject_distance_mm"] = case["subject"]
    given |= {
        "frequency_per_mm": case["nu"], "field_angle_deg": case["theta"], "direction": case["direction"], "film": case["film"],
    }
    print(json.dumps({
        "id": f"B{number:03}", "quantity": "transfer", "given": given, "expect": {"otf": averaged(case)},
        "tolerance": {"otf": {"abs": 0.0005}},
        "source": "scalar diffraction, overlap of the opening with itself (Hopkins, Proc. R. Soc. A 231, 1955); computed "
                  "for this project by oblique.py",
        "method": "two-dimensional adaptive quadrature over exact path lengths",
    }))


def image_of_a_point(case):
    """Density per square mm at a place on the film by its distances along and across: the light through every point of
    the opening added up with its exact path; its whole by the slopes of the path at the middle (Parseval). Along the tilt the
    exact image is not quite the same outwards as inwards, up to 2 % either way in these cases; to the second power of
    the lengths it is, so the program is compared with the mean of both sides."""
    d, theta, lam, film, size = case["d"], case["theta"] * DEG, case["lam"] * 1e-6, case["film"], case["size"]
    subject, a, k, many = case.get("subject"), case["d"] / 2, 2 * np.pi / lam, case.get("nodes", 56)
    c, s = np.cos(theta), np.sin(theta)
    chord = size / c if film == "flat" else 2 * size * c
    place = np.array([chord * s, 0.0, chord * c])
    step = np.array([1.0, 0.0, 0.0]) if film == "flat" else np.array([chord * c - size, 0.0, -chord * s]) / size
    whole = lam**2 * np.pi * a * a
    for axis, direction in enumerate(("tangential", "sagittal")):
        whole *= shift_per_frequency(path(film, size, subject, theta, direction), axis)
    node, weight = np.polynomial.legendre.leggauss(many)
    radius, turn = (node + 1) / 2 * a, (node + 1) * np.pi
    x, y = np.outer(radius, np.cos(turn)), np.outer(radius, np.sin(turn))
    area = np.outer(weight * a / 2 * radius, weight * np.pi)

    def density(along, across):
        p = place + along * step + np.array([0.0, across, 0.0])
        length = np.sqrt((p[0] - x) ** 2 + (p[1] - y) ** 2 + p[2] ** 2)
        if subject is None:
            length = length + x * s
        else:
            length = length + np.sqrt((subject * s / c + x) ** 2 + y**2 + subject**2)
        return abs(np.sum(area * np.exp(1j * k * (length - length[0, 0])))) ** 2 / whole

    return density


def energy_within(case, radius):
    density = image_of_a_point(case)
    node, weight = np.polynomial.legendre.leggauss(case.get("places", 36))
    places = [((n + 1) / 2 * radius, w * radius / 2) for n, w in zip(node, weight)]
    turns = [((n + 1) * np.pi / 2, w * np.pi / 2) for n, w in zip(node, weight)]
    return 2 * sum(r * wr * wt * density(r * np.cos(t), r * np.sin(t)) for r, wr in places for t, wt in turns)


POINTS = [
    dict(film="flat", d=0.35, size=75, theta=30, lam=550, radius=0.15),
    dict(film="flat", d=0.3, size=75, theta=50, lam=550, radius=0.4),
    dict(film="flat", d=0.6, size=120, theta=45, lam=460, radius=0.25, subject=500),
    dict(film="curved", d=0.35, size=50, theta=40, lam=550, radius=0.2),
    dict(film="curved", d=0.5, size=40, theta=55, lam=460, radius=0.25, subject=800),
    # far off the axis, where the image is long and narrow
    dict(film="flat", d=0.3, size=100, theta=70, lam=550, radius=1.0, nodes=80, places=80),
    dict(film="curved", d=0.4, size=60, theta=75, lam=550, radius=0.5, nodes=80, places=80),
    # nearly a shadow; so near its hole the brightness at one place goes by the third power of the lengths as well (the
    # path's term a^3 sin(theta) cos^2(theta) / (2 lambda v^2) is 0.008 and 0.05 waves), the energy in a circle hardly
    dict(film="flat", d=5.0, size=1000, theta=20, lam=550, radius=1.5, nodes=110, places=70),
    dict(film="flat", d=3.6, size=500, theta=30, lam=550, radius=1.2, nodes=110, places=70, energy_only=True),
    dict(film="flat", d=5.0, size=300, theta=20, lam=550, radius=1.5, nodes=220, places=110, energy_only=True),
]

number = len(CASES)
for case in POINTS:
    given = {
        "hole_diameter_mm": case["d"], "hole_to_film_mm" if case["film"] == "flat" else "inside_radius_mm": case["size"],
        "wavelength_nm": case["lam"], "field_angle_deg": case["theta"], "film": case["film"], "radius_mm": case["radius"],
    }
    if "subject" in case:
        given["subject_distance_mm"] = case["subject"]
    density, r = image_of_a_point(case), case["radius"]
    middle = density(0, 0)
    for quantity, more, expect, tolerance in [
        ("encircled_energy", {}, {"share": energy_within(case, r)}, {"share": {"abs": 0.001}}),
        ("point_spread", {"direction": "tangential"}, {"density_per_mm2": (density(r, 0) + density(-r, 0)) / 2}, {"density_per_mm2": {"abs": 0.002 * middle}}),
        ("point_spread", {"direction": "sagittal"}, {"density_per_mm2": density(0, r)}, {"density_per_mm2": {"abs": 0.002 * middle}}),
    ][: 1 if case.get("energy_only") else 3]:
        number += 1
        print(json.dumps({
            "id": f"B{number:03}", "quantity": quantity, "given": given | more, "expect": expect, "tolerance": tolerance,
            "source": "scalar diffraction (Born & Wolf, Principles of Optics, ch. 8); computed for this project by oblique.py",
            "method": "two-dimensional Gauss-Legendre sum over exact path lengths",
        }))
