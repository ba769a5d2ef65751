"""Follows water over a map of heights anew, and compares with a run.

    water.py HEIGHTS UNIT AREA OUTPUTS

The plan stands in water_test.go; AREA is a file of polygons or empty. The
ground is flooded from its rim and its holes, lowest cell first, with a heap
(Barnes, Lehman & Mulla 2014); hollows are labelled by scipy; each cell drains
to its steepest neighbour, over flats as far as the flood came.
"""
import heapq
import sys

import numpy as np
from osgeo import gdal
from scipy import ndimage

gdal.UseExceptions()
path, unit, area, outputs = sys.argv[1:]
source = gdal.Open(path)
cell = source.GetGeoTransform()[1]
z = source.ReadAsArray().astype(np.float32)
if unit == "ft":
    z = z * np.float32(0.3048)
inside = np.ones(z.shape, bool)
if area:
    burnt = gdal.GetDriverByName("MEM").Create("", source.RasterXSize, source.RasterYSize, 1, gdal.GDT_Byte)
    burnt.SetGeoTransform(source.GetGeoTransform())
    burnt.SetProjection(source.GetProjection())
    local = gdal.VectorTranslate("", area, dstSRS=source.GetProjection(), format="Memory", options=["-segmentize", "0.00002"])
    layer = local.GetLayer(0)
    gdal.RasterizeLayer(burnt, [1], layer, burn_values=[1])
    inside = burnt.ReadAsArray() == 1
    z[ndimage.distance_transform_edt(~inside) * cell > 300 * (1 + 1e-6)] = np.nan
rows, cols = z.shape
known = ~np.isnan(z)
near = ndimage.binary_erosion(known, np.ones((3, 3)), border_value=0)
filled = np.full(z.shape, np.nan, np.float32)
heap = [(z[r, c], r, c) for r, c in zip(*np.nonzero(known & ~near))]
heapq.heapify(heap)
queued = known & ~near
while heap:
    level, r, c = heapq.heappop(heap)
    filled[r, c] = level
    for i in range(max(r - 1, 0), min(r + 2, rows)):
        for j in range(max(c - 1, 0), min(c + 2, cols)):
            if known[i, j] and not queued[i, j]:
                queued[i, j] = True
                heapq.heappush(heap, (max(level, z[i, j]), i, j))
depth = filled - z
labels, n = ndimage.label(depth > 0, np.ones((3, 3)))
size = np.bincount(labels.ravel())
size[0] = 0
hectares = size[labels] * cell * cell / 1e4

# What gathers at each cell: cells from the highest down, flats left out of the
# comparison where the ways over them may differ.
flat = np.zeros(z.shape, bool)
receiver = np.full((rows, cols, 2), -1)
order = ((-1, 0), (0, -1), (0, 1), (1, 0), (-1, -1), (-1, 1), (1, -1), (1, 1))
for r, c in zip(*np.nonzero(known)):
    best = 0.0
    for i, j in order:
        if 0 <= r + i < rows and 0 <= c + j < cols and known[r + i, c + j]:
            fall = (float(filled[r, c]) - float(filled[r + i, c + j])) / (cell * (i * i + j * j) ** 0.5)
            if fall > best * (1 + 1e-12):
                best, receiver[r, c] = fall, (r + i, c + j)
    flat[r, c] = best == 0 and near[r, c]
# Where water comes by a flat, other ways over it are as right: unsure.
gathered = known.astype(float)
unsure = ndimage.binary_dilation(flat, np.ones((3, 3))) & known
for at in np.argsort(-np.where(known, filled, -np.inf), axis=None, kind="stable"):
    r, c = divmod(int(at), cols)
    if not known[r, c]:
        break
    i, j = receiver[r, c]
    if i >= 0:
        gathered[i, j] += gathered[r, c]
        unsure[i, j] |= unsure[r, c]

faults = []
factors = gdal.Open(f"{outputs}/factors.tif")  # a band does not keep its file open


def compare(band, name, want, within, where):
    got = factors.GetRasterBand(band)
    assert got.GetDescription() == name, got.GetDescription()
    got = got.ReadAsArray()  # of the area's own window
    mine, its = source.GetGeoTransform(), factors.GetGeoTransform()
    west, north = round((its[0] - mine[0]) / cell), round((mine[3] - its[3]) / cell)
    whole = np.full(z.shape, np.nan, np.float32)
    whole[north:north + got.shape[0], west:west + got.shape[1]] = got
    got = whole
    shown = inside & known
    if not np.array_equal(~np.isnan(got), shown):
        faults.append(f"{name}: {np.sum(np.isnan(got) == shown)} cells are known to one alone")
    where = where & shown
    wrong = where & ~(np.abs(got - np.clip(want, 0, 1)) <= within)
    print(f"{name}: {where.sum()} cells compared, {np.sum(where & (want > 0))} above 0, {wrong.sum()} differ")
    if wrong.any() or np.sum(where & (want > 0)) < 100:
        faults.append(name)


everywhere = np.ones(z.shape, bool)
compare(1, "depth", depth / 16, 1e-6, everywhere)
compare(2, "size", hectares / 4, 1e-6, everywhere)
compare(3, "gathers", gathered * cell * cell / 1e4 / 64, 1e-6, ~unsure)
if faults:
    sys.exit("WRONG: " + "; ".join(faults))
