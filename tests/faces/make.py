#!/usr/bin/env python3
"""Makes the files of Shimlight's text face: static/faces/*.woff2.

The face is Andika 6.101, cut down to what pages show and renamed, since "Andika" and "SIL" are reserved
font names and a font with fewer letters is a modified one (static/faces/ABOUT.txt says so beside them).

Needed, in a throw-away environment:
    Debian   fonts-sil-andika 6.101-2   (the original files and the licence)
    PyPI     fonttools 4.68.0, brotli 1.2.1

    python3 tests/faces/make.py [FOLDER WITH Andika-Regular.ttf AND Andika-Bold.ttf]

Hints are left out: every machine then draws and measures the letters alike, at any size.
"""

import sys
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

FAMILY = "Shimlight Text"
ORIGINAL = "Andika 6.101"
INTO = Path(__file__).resolve().parents[2] / "static" / "faces"
WEIGHTS = {400: ("Andika-Regular.ttf", "Regular"), 700: ("Andika-Bold.ttf", "Bold")}

# What every page may show: Latin letters, and the signs of formulas and sentences.
TEXT = [
    (0x0020, 0x007E), (0x00A0, 0x017F), (0x02BB, 0x02BC),
    # accents that some computers type on their own
    (0x0300, 0x0304), (0x0306, 0x0308), (0x030A, 0x030C), (0x0323, 0x0323), (0x0327, 0x0328),
    (0x0393, 0x0394), (0x03A0, 0x03A0), (0x03A3, 0x03A3),
    (0x03B1, 0x03B1), (0x03B3, 0x03B4), (0x03B8, 0x03B8), (0x03BA, 0x03BB), (0x03BD, 0x03BD), (0x03C0, 0x03C1),
    (0x03C3, 0x03C3), (0x03C6, 0x03C6), (0x2002, 0x200B), (0x2010, 0x2015), (0x2018, 0x201F), (0x2020, 0x2022),
    (0x2026, 0x2026), (0x202F, 0x2030), (0x2032, 0x2033), (0x2070, 0x208E), (0x20AC, 0x20AC), (0x2190, 0x2193),
    (0x2212, 0x2212), (0x221A, 0x221A), (0x222B, 0x222B), (0x2248, 0x2248), (0x2260, 0x2260), (0x2264, 0x2265),
    (0x2713, 0x2713),
]
# What names of people bring along; fetched only where one stands on the page.
NAMES = [
    (0x0180, 0x024F), (0x0305, 0x0305), (0x0309, 0x0309), (0x030D, 0x0322), (0x0324, 0x0326), (0x0329, 0x036F),
    (0x0400, 0x052F), (0x1E00, 0x1EFF),
]

# Signs that the original lacks, drawn with a letter of its own of the same shape. The letter itself is left out.
DRAWN_AS = {
    0x03A3: 0x2211,  # capital sigma: the sign of summation
    0x03BA: 0x0138,  # kappa: kra
    0x03BD: 0x028B,  # nu: v with hook, which is no v, as v is a distance
}


def characters(ranges):
    return {code for first, last in ranges for code in range(first, last + 1)}


def rename(font, style):
    names = font["name"]
    full = f"{FAMILY} {style}"
    said = {
        1: FAMILY,
        2: style,
        3: f"{full}, made from {ORIGINAL}",
        4: full,
        5: f"Version 1.0, made from {ORIGINAL}",
        6: f"{FAMILY.replace(' ', '')}-{style}",
    }
    kept = {0: names.getDebugName(0), 13: names.getDebugName(13).split("\n\n-----")[0], 14: names.getDebugName(14)}
    names.names = []
    for number, words in sorted({**said, **kept}.items()):
        names.setName(words.strip(), number, 3, 1, 0x409)


def make(original, style, ranges, to):
    font = TTFont(original)
    wanted = characters(ranges)
    for table in font["cmap"].tables:
        if table.isUnicode():
            for sign, letter in DRAWN_AS.items():
                if sign in wanted:
                    table.cmap[sign] = font.getBestCmap()[letter]
    options = Options()
    options.flavor = "woff2"
    options.hinting = False
    options.layout_features = ["kern", "ccmp", "locl", "mark", "mkmk"]
    # what is for other machines and other drawing engines
    options.drop_tables += ["Silf", "Sill", "Silt", "Feat", "Glat", "Gloc", "DSIG"]
    options.name_IDs = ["*"]
    options.notdef_outline = True
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=wanted)
    subsetter.subset(font)
    rename(font, style)
    font["head"].modified = font["head"].created
    font.recalcTimestamp = False
    font.flavor = "woff2"
    font.save(to)
    return sorted(TTFont(to).getBestCmap())


def as_css(codes):
    """The same as a `unicode-range`."""
    runs = []
    for code in codes:
        if runs and runs[-1][1] == code - 1:
            runs[-1][1] = code
        else:
            runs.append([code, code])
    return ", ".join(f"U+{a:04X}" if a == b else f"U+{a:04X}-{b:04X}" for a, b in runs)


def main():
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "/usr/share/fonts/truetype/andika")
    rules = []
    for part, ranges in (("text", TEXT), ("names", NAMES)):
        for weight, (file, style) in WEIGHTS.items():
            to = INTO / f"shimlight-{part}-{weight}.woff2"
            codes = make(folder / file, style, ranges, to)
            print(f"{to.name}: {len(codes)} characters, {to.stat().st_size} bytes")
            rules.append(
                f'@font-face {{ font-family: "{FAMILY}"; font-weight: {weight}; font-display: block; '
                f'src: url("faces/{to.name}") format("woff2"); unicode-range: {as_css(codes)}; }}'
            )
    print("\nfor the head of static/shimlight.css:\n" + "\n".join(rules))


if __name__ == "__main__":
    main()
