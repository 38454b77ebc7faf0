#!/usr/bin/env python3
"""Draws scans of 40 megapixels, and reads them plainly with general libraries. Run by benches/scan.

    scan_plain.py compare PROGRAM FOLDER    draws into FOLDER, runs both, prints the table
    scan_plain.py read KIND FILE            reads one scan plainly, prints JSON
"""
import json
import math
import os
import subprocess
import sys
import time

WIDTH, HEIGHT = 5200, 7700
DPI = {"sheet": 600, "hole": 2400}
D_MAX, RANGE = 1.9, 1.1
ROUNDS = 5


def logit(f):
    return math.log(f / (1 - f))


K = (logit(0.9) - logit(0.04 / D_MAX)) / RANGE
C = (logit(0.9) + logit(0.04 / D_MAX)) / 2


def draw(kind, file, colour):
    """A negative exposed 0.4 stop too much on a dark lid, turned by 1.3 degrees; or a hole of 0.4 mm among dust."""
    import numpy as np
    from PIL import Image

    rng = np.random.default_rng(7)
    out = np.empty((HEIGHT, WIDTH), np.uint8)
    turn, px = math.radians(1.3), 25.4 / DPI[kind]
    for top in range(0, HEIGHT, 350):
        y, x = np.mgrid[top : top + 350, 0:WIDTH].astype(np.float32)
        noise = rng.standard_normal(x.shape, np.float32)
        if kind == "hole":
            away = np.hypot(x - 2236.3, y - 4388.8)
            inside = np.clip(0.5 + (0.2 / px - away) / 1.6, 0, 1)
            code = 28 + 197 * inside + 6 * np.sin(x / 900) + 2 * noise
            for k in range(60):
                sx, sy, r = 70 + 85 * k, (997 * k + 400) % HEIGHT, 1 + k % 3 * 0.8
                if top - 9 < sy < top + 359:
                    code = np.where(np.hypot(x - sx, y - sy) < r, 127, code)
        else:
            u = (x - WIDTH / 2) * math.cos(turn) + (y - HEIGHT / 2) * math.sin(turn)
            v = (y - HEIGHT / 2) * math.cos(turn) - (x - WIDTH / 2) * math.sin(turn)
            half_u, half_v, border = 0.455 * WIDTH, 0.455 * HEIGHT, 5 / px
            # even in both directions: the median is the middle
            stops = 0.4 + 2.0 * u / half_u + 1.0 * v / half_v
            net = D_MAX / (1 + np.exp(-(C + K * math.log10(2) * stops)))
            light = np.where((abs(u) < half_u - border) & (abs(v) < half_v - border), 0.85 * 10**-net, 0.85)
            light = np.where((abs(u) < half_u) & (abs(v) < half_v), light, 0.035) * (1 + 0.02 * noise)
            light = np.clip(light, 0, 1)
            code = 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        out[top : top + 350] = np.clip(np.rint(code), 0, 255)
    image = Image.fromarray(out)
    if colour:
        image = Image.merge("RGB", [image] * 3)
    image.save(file, compress_level=1, dpi=(DPI[kind],) * 2)


def read(kind, file):
    """The same job with what the libraries offer, as one would write it down."""
    import numpy as np
    from PIL import Image
    from scipy import ndimage
    from skimage import measure, transform

    Image.MAX_IMAGE_PIXELS = None
    begun, worked = time.perf_counter(), time.process_time()
    codes = np.asarray(Image.open(file).convert("L"))
    if kind == "hole":
        plate = np.median(codes[::16, ::16])
        labels = measure.label(codes > plate + 98)
        region = max(measure.regionprops(labels), key=lambda region: region.area)
        top, left, bottom, right = region.bbox
        part = codes[top - 12 : bottom + 12, left - 12 : right + 12].astype(float)
        mask = np.pad(region.image_filled, 12)
        low = np.median(part[~ndimage.binary_dilation(mask, iterations=4)])
        high = np.median(part[ndimage.binary_erosion(mask, iterations=4)])
        area = ((part - low) / (high - low))[ndimage.binary_dilation(mask, iterations=5)].sum()
        answer = {"d_area_mm": 2 * math.sqrt(area / math.pi) * 25.4 / DPI[kind]}
    else:
        v = np.arange(256) / 255
        table = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)
        small = transform.downscale_local_mean(table[codes], (5, 5))
        density = -np.log10(np.maximum(ndimage.median_filter(small, 3), 1e-4))
        labels = measure.label(abs(density - np.median(density[:4])) > 0.2)
        region = max(measure.regionprops(labels), key=lambda region: region.area)
        points = region.coords[:, ::-1]
        sums, differences = points.sum(1), points[:, 0] - points[:, 1]
        corners = np.array([points[i] for i in (sums.argmin(), differences.argmax(), sums.argmax(), differences.argmin())])
        w, h = np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[3] - corners[0]))
        form = transform.ProjectiveTransform.from_estimate([[0, 0], [w, 0], [w, h], [0, h]], corners)
        flat = transform.warp(density, form, output_shape=(int(h), int(w)))
        base = np.median(flat[4:8, 40:-40])
        inset = int(5.2 / 25.4 * DPI[kind] / 5)
        middle = np.median(flat[inset:-inset, inset:-inset]) - base
        answer = {"exposure_error_stops": (logit(middle / D_MAX) - C) / K / math.log10(2)}
    answer["seconds"] = [time.perf_counter() - begun, time.process_time() - worked]
    print(json.dumps(answer))


def measured(command):
    """Seconds, seconds of a processor, largest resident size in MB, and what was printed."""
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    text = process.stdout.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    seconds = time.perf_counter() - begun
    assert process.returncode == 0, command
    return seconds, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, json.loads(text)


def compare(program, folder):
    wrong = []
    print("Best of %d (median): seconds on the clock, seconds of a processor; the most memory of all in MB." % ROUNDS)
    print("| 40 megapixels | shimlight scan: clock | processor | MB | found | general libraries, imports not counted: clock | processor | MB | found |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for kind, colour, key, drawn, allowed in [
        ("sheet", False, "exposure_error_stops", 0.4, 0.15),
        ("sheet", True, "exposure_error_stops", 0.4, 0.15),
        ("hole", False, "d_area_mm", 0.4, 0.004),
    ]:
        file = os.path.join(folder, "%s.png" % kind)
        # in a process of its own: what draws needs more memory than what reads, and a child begins with its parent's
        subprocess.check_call([sys.executable, __file__, "draw", kind, file, "colour" if colour else "grey"])
        cells = []
        for command in ([program, "scan", kind, file], [sys.executable, __file__, "read", kind, file]):
            runs = [measured(command) for _ in range(ROUNDS)]
            answer = runs[0][3]
            found = answer["found"][0][key] if "found" in answer else answer[key]
            times = [run[3].get("seconds", run[:2]) for run in runs]
            clock, worked = (sorted(of) for of in zip(*times))
            both = ["%.2f (%.2f)" % (of[0], of[ROUNDS // 2]) for of in (clock, worked)]
            cells.append(" | ".join(both + ["%.0f" % max(run[2] for run in runs), "%.3f" % found]))
            if abs(found - drawn) > allowed:
                wrong.append("%s: %s found %g, drawn %g" % (kind, command[0], found, drawn))
        print("| %s, %s, %s %g | %s |" % (kind, "RGB" if colour else "grey", key, drawn, " | ".join(cells)), flush=True)
    print("\n".join(wrong))
    return 1 if wrong else 0


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["compare", program, folder]:
            sys.exit(compare(program, folder))
        case ["draw", kind, file, colour]:
            draw(kind, file, colour == "colour")
        case ["read", kind, file]:
            read(kind, file)
        case _:
            sys.exit(__doc__)
