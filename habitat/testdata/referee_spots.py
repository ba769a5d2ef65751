"""Works out anew what is said of ranked areas, with GDAL, numpy and scipy.

    referee_spots.py FOLDER OUTPUTS

Areas are labelled in score.tif; coverage and what is known throughout come
from the last band of factors.tif; slopes follow Horn (1981) by his formula; the
best known hectare is looked for cell by cell; values of the soil and classes
of the cover are not read here.
"""
import json
import math
import sys

import numpy as np
from osgeo import gdal, osr
from scipy import ndimage

gdal.UseExceptions()
folder, outputs = sys.argv[1:]
faults = []


def expect(holds, what):
    if not holds:
        print("WRONG: " + what)
        faults.append(what)


score_file = gdal.Open(f"{outputs}/score.tif")
factors_file = gdal.Open(f"{outputs}/factors.tif")
x0, cell, _, y0, _, _ = score_file.GetGeoTransform()
score = score_file.ReadAsArray().astype(float)
coverage = factors_file.GetRasterBand(factors_file.RasterCount).ReadAsArray().astype(float)
names = [factors_file.GetRasterBand(i + 1).GetDescription() for i in range(factors_file.RasterCount - 1)]
factors = factors_file.ReadAsArray().astype(float)
dem = gdal.Warp("", f"{folder}/inputs/speckled_h.tif", format="MEM", dstSRS=score_file.GetProjection(), outputBounds=(
    x0 - cell, y0 - cell * (score.shape[0] + 1), x0 + cell * (score.shape[1] + 1), y0 + cell), xRes=cell, yRes=cell,
    dstNodata=float("nan"), outputType=gdal.GDT_Float64).ReadAsArray()


def horn(z):
    a = [[z[i:z.shape[0] - 2 + i, k:z.shape[1] - 2 + k] for k in range(3)] for i in range(3)]
    dx = (a[0][2] + 2 * a[1][2] + a[2][2] - a[0][0] - 2 * a[1][0] - a[2][0]) / (8 * cell)
    dy = (a[2][0] + 2 * a[2][1] + a[2][2] - a[0][0] - 2 * a[0][1] - a[0][2]) / (8 * cell)
    return np.degrees(np.arctan(np.hypot(dx, dy))) + 0 * a[1][1]


slope = horn(dem)
ll, own = osr.SpatialReference(), osr.SpatialReference(score_file.GetProjection())
ll.ImportFromEPSG(4326)
for s in (ll, own):
    s.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
move = osr.CoordinateTransformation(ll, own)

labels, _ = ndimage.label(np.nan_to_num(score, nan=-1) >= round(0.5 * 16384) / 16384, np.ones((3, 3)))
spots = json.load(open(f"{outputs}/hotspots.geojson"))["features"]
expect(len(spots) > 5, f"{len(spots)} areas say little")
partly = 0
for f in spots:
    p = f["properties"]
    who = f"area {p['rank']}: "
    x, y, _ = move.TransformPoint(*p["point"])
    col, row = math.floor((x - x0) / cell), math.floor((y0 - y) / cell)
    mine = labels == labels[row, col]
    expect(labels[row, col] > 0, who + "the point lies outside")
    known = mine & (coverage == 1)
    expect(not known.any() or known[row, col], who + "the point lies on ground that is not known")
    expect(abs(p["mean"] - score[mine].mean()) < 1e-4, who + "mean")
    expect(abs(p["coverage"] - coverage[mine].mean()) < 1e-4, who + f"coverage {p['coverage']} against {coverage[mine].mean()}")
    partly += p["coverage"] < 1
    if known.any():
        expect(abs(p["mean_known"] - score[known].mean()) < 1e-4, who + "mean on known ground")
    else:
        expect(p["mean_known"] is None, who + "mean on known ground where there is none")
    s = slope[mine]
    if np.isnan(s).all():
        expect(p["steepest_deg"] is None, who + "steepest of nothing")
    else:
        expect(abs(p["steepest_deg"] - np.nanmax(s)) < 0.051, who + f"steepest {p['steepest_deg']} against {np.nanmax(s)}")
    missing = [f"{n} on" for i, n in enumerate(names) if np.isnan(factors[i][mine]).any()]
    expect(all(m in (p["not_known"] or "") for m in missing) and (p["not_known"] or "").count(" on ") == len(missing), who + f"not known: {p['not_known']} against {missing}")

    # the best hectare: every square of 10 × 10 cells over the area
    n = round(100 / cell)
    rows, cols = np.where(mine)
    squares = []
    for r in range(rows.min(), max(rows.max() - n + 1, rows.min()) + 1):
        for c in range(cols.min(), max(cols.max() - n + 1, cols.min()) + 1):
            part = known[r:r + n, c:c + n]
            if part.any():
                squares.append((part.sum(), score[r:r + n, c:c + n][part].mean()))
    if np.ptp(rows) + 1 < n or np.ptp(cols) + 1 < n or not squares:
        continue  # squares stand over there
    fullest = max(k for k, _ in squares)
    best = max(m for k, m in squares if k * 10 >= fullest * 9)
    expect(abs(p["best_hectare_mean"] - best) < 1e-4, who + f"best hectare {p['best_hectare_mean']} against {best}")
expect(partly > 2, "nearly every area is wholly known, which says little")
print(f"{len(spots)} areas")
sys.exit(1 if faults else 0)
