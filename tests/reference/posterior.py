"""Posterior of the experience model by general linear algebra: writes posterior.jsonl.

Run with numpy (any recent version):  python3 posterior.py > posterior.jsonl

Model (src/calc/light/experience.rs): observation = paper + session + camera + noise, the offsets
normal about zero with sd 1.0, 0.5, 0.35 stops, noise Student t with 4 degrees of freedom and scale
0.6 by eye, 0.4 by scan, fitted by EM. Observation = log2(metered(made) / base) + result, with
metered(t) = t0 (t / t0)^(1/P) above the threshold t0. Where the exponent P is fitted it has a normal
prior 1.1 +- 0.1 and is kept to 1..2.

Nothing is eliminated here: one design matrix with a column for the paper, each session, each camera
and the exponent, and numpy.linalg on the whole of it. The exponent is linearised anew in every round
of the EM, not in an outer loop as in the program: only the fixed point is the same.
"""

import json

import numpy as np

SD = {"paper": 1.0, "session": 0.5, "camera": 0.35}
SCALE = {"eye": 0.6, "scan": 0.4}
PRIOR_P = (1.1, 0.1)


def metered(made, p, t0):
    return made if made <= t0 else t0 * (made / t0) ** (1.0 / p)


def solve(sheets, p0, t0, fit):
    sessions = sorted({s["session"] for s in sheets})
    cameras = sorted({s["camera"] for s in sheets})
    n = 1 + len(sessions) + len(cameras) + 1
    prior_precision = np.diag(
        [SD["paper"] ** -2]
        + [SD["session"] ** -2] * len(sessions)
        + [SD["camera"] ** -2] * len(cameras)
        + [PRIOR_P[1] ** -2 if fit else 1.0]
    )
    p = PRIOR_P[0] if fit else p0
    weights = np.ones(len(sheets))
    for _ in range(20000):
        design = np.zeros((len(sheets), n))
        observed = np.zeros(len(sheets))
        scale2 = np.zeros(len(sheets))
        for i, s in enumerate(sheets):
            design[i, 0] = 1
            design[i, 1 + sessions.index(s["session"])] = 1
            design[i, 1 + len(sessions) + cameras.index(s["camera"])] = 1
            if fit and s["made_s"] > t0:
                design[i, n - 1] = np.log2(s["made_s"] / t0) / p**2
            observed[i] = np.log2(metered(s["made_s"], p, t0) / s["base_s"]) + s["result"]
            scale2[i] = SCALE[s["source"]] ** 2
        prior_mean = np.zeros(n)
        if fit:
            prior_mean[n - 1] = PRIOR_P[0] - p
        w = weights / scale2
        precision = prior_precision + design.T @ (w[:, None] * design)
        covariance = np.linalg.inv(precision)
        mean = covariance @ (prior_precision @ prior_mean + design.T @ (w * observed))
        residual = observed - design @ mean
        variance = np.einsum("ij,jk,ik->i", design, covariance, design)
        new = 5.0 / (4.0 + (residual**2 + variance) / scale2)
        p_new = min(max(p + mean[n - 1], 1.0), 2.0) if fit else p
        moved = max(np.max(np.abs(new - weights), initial=0.0), abs(p_new - p))
        weights, p = new, p_new
        if moved < 1e-14:
            break
    # given the weights once more, so that mean and weights belong together
    return sessions, cameras, p, mean, covariance, weights


def ask(sheets, p0, t0, fit, question):
    sessions, cameras, p, mean, covariance, weights = solve(sheets, p0, t0, fit)
    n = len(mean)
    vector = np.zeros(n)
    extra = 0.0
    vector[0] = 1
    if question["session"] in sessions:
        vector[1 + sessions.index(question["session"])] = 1
    else:
        extra += SD["session"] ** 2
    if question["camera"] in cameras:
        vector[1 + len(sessions) + cameras.index(question["camera"])] = 1
    else:
        extra += SD["camera"] ** 2
    correction = float(vector @ mean)
    if fit:
        # an exponent at the end of its range leaves a slope: the offsets given that it is none
        slope = np.zeros(n)
        slope[n - 1] = 1
        correction -= float(vector @ covariance @ slope / covariance[n - 1, n - 1] * mean[n - 1])
        metered_s = question["base_s"] * 2**correction
        vector[n - 1] = max(np.log2(metered_s / t0), 0.0) / p
    sd = float(np.sqrt(vector @ covariance @ vector + extra))
    return {"correction_stops": correction, "sd_stops": sd}


def section(rng, count, spread, true_p, t0, wild):
    sheets = []
    paper = rng.normal(0, SD["paper"])
    session = rng.normal(0, SD["session"], 5)
    camera = rng.normal(0, SD["camera"], 8)
    for i in range(count):
        s, c = int(rng.integers(0, 1 + i // 8)) % 5, int(rng.integers(0, 8))
        base = float(np.round(4.0 * 2 ** rng.uniform(0, spread), 3))
        source = "scan" if rng.random() < 0.3 else "eye"
        off = rng.standard_t(4) * SCALE[source]
        right = base * 2 ** (paper + session[s] + camera[c])
        right = t0 * (right / t0) ** true_p if right > t0 else right
        made = float(np.round(right * 2 ** rng.normal(0, 0.7), 3))
        result = float(np.round(2 * (np.log2(right / made) / true_p + off)) / 2)
        if wild and i == count // 2:
            result = -6.0
        sheets.append(
            {
                "made_s": max(made, 0.05),
                "base_s": base,
                "result": min(max(result, -8.0), 8.0),
                "source": source,
                "session": f"s{s}",
                "camera": f"c{c}",
            }
        )
    return sheets


def main():
    rng = np.random.default_rng(20261125)
    plans = [
        # sheets, stops the bases spread over, true exponent, exponent of the card, threshold, fit, a wild sheet
        (1, 1, 1.0, 1.0, 1.0, False, False),
        (3, 1, 1.0, 1.0, 1.0, False, False),
        (6, 2, 1.0, 1.2, 1.0, False, True),
        (12, 2, 1.0, 1.0, 1.0, False, True),
        (24, 3, 1.0, 1.31, 1.0, False, False),
        (40, 3, 1.0, 1.0, 1.0, False, True),
        (8, 5, 1.1, 1.0, 1.0, True, False),
        (16, 6, 1.2, 1.0, 1.0, True, False),
        (30, 6, 1.3, 1.0, 1.0, True, True),
        (30, 7, 1.0, 1.0, 1.0, True, False),
        (24, 6, 1.15, 1.0, 8.0, True, True),
        # sheets that would ask for an exponent below one: it stays at one
        (24, 6, 0.8, 1.0, 1.0, True, False),
    ]
    for number, (count, spread, true_p, card_p, t0, fit, wild) in enumerate(plans, 1):
        sheets = section(rng, count, spread, true_p, t0, wild)
        questions = [
            {"session": "s0", "camera": "c0", "base_s": 8.0},
            {"session": sheets[-1]["session"], "camera": sheets[-1]["camera"], "base_s": 120.0},
            {"session": "another", "camera": sheets[0]["camera"], "base_s": 2.0},
            {"session": "another", "camera": "another", "base_s": 600.0},
        ]
        _, _, p, _, covariance, weights = solve(sheets, card_p, t0, fit)
        line = {
            "id": f"posterior-{number:02}",
            "exponent": card_p,
            "threshold_s": t0,
            "fit": fit,
            "sheets": sheets,
            "expect": {
                "exponent": p,
                "exponent_sd": float(np.sqrt(covariance[-1, -1])) if fit else None,
                "weights": [float(w) for w in weights],
                "answers": [{**q, **ask(sheets, card_p, t0, fit, q)} for q in questions],
            },
            "source": f"numpy {np.__version__} linear algebra on the whole model, posterior.py",
        }
        print(json.dumps(line))


main()
