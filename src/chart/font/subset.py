"""Makes the chart font from the upstream family (Debian package fonts-lato 2.0-2.1, fonttools 4.68.0).

usage: python subset.py FOLDER_WITH_THE_UPSTREAM_TTF

The licence (OFL.txt, clause 3) reserves the upstream name for unmodified copies, so the subset
carries a name of its own; copyright and licence entries of the name table stay.
"""

import sys
from fontTools import subset
from fontTools.ttLib import TTFont

RANGES = [(0x20, 0x7E), (0xA0, 0x17F), (0x218, 0x21B), (0x391, 0x3A9), (0x3B1, 0x3C9), (0x410, 0x44F)]
SINGLE = "ЁёІіЇїЄєҐґẞ–—‘’‚“”„†•…‰′″‹›€™Ω−→←↑↓≈≠≤≥∞√∆∑∂⁰⁴⁵⁶⁷⁸⁹⁻₀₁₂₃₄₅₆₇₈₉⅓⅔½¼¾"

for weight in ("Regular", "Bold"):
    font = TTFont(f"{sys.argv[1]}/Lato-{weight}.ttf", recalcTimestamp=False)
    options = subset.Options()
    options.legacy_kern = True
    options.layout_features = []
    options.hinting = False
    options.notdef_outline = True
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14]
    options.drop_tables += ["GPOS", "GSUB", "GDEF"]
    worker = subset.Subsetter(options)
    worker.populate(unicodes=[c for a, b in RANGES for c in range(a, b + 1)] + [ord(c) for c in SINGLE])
    worker.subset(font)
    for record in font["name"].names:
        renamed = {1: "Chart Sans", 3: f"Chart Sans {weight} subset", 4: f"Chart Sans {weight}", 6: f"ChartSans-{weight}"}
        if record.nameID in renamed:
            record.string = renamed[record.nameID]
    font.save(f"chart-sans-{weight.lower()}.ttf")
