"""Works out the mixed plan cell by cell, and compares.

    mixed_judge.py FOLDER OUTPUTS

It follows the definitions and nothing else: every point goes by itself
through the exact transformation, every cell is evaluated at its centre or at
k × k points. Homolosine is computed from Goode (1925) by the formulas of
Mollweide (Snyder 1987, eq. 31-1 to 31-4); the datum of the British grid from
its published seven numbers (EPSG:1314); longitudes and latitudes by OSR.
Polygons are tested point by point with the crossing rule. gdalwarp, exact and
at a fixed scale, is asked besides for what is interpolated.

A point within SHIFT (3/10000 of a grid cell, and at most 1/1000 of a map cell)
of a border may fall on either side: a position is promised no better than
1/1000. Cells that such points could turn are told apart, and must be few. What
is interpolated may be off by what such a shift makes of it, a mean by the
points on borders: the tolerances are worked out cell by cell.
"""
import sys

import numpy as np
from osgeo import gdal, ogr, osr

gdal.UseExceptions()
ogr.UseExceptions()
folder, outputs = sys.argv[1:]
SHIFT = 3e-4
faults = []


def expect(holds, what):
    print(("" if holds else "WRONG: ") + what)
    if not holds:
        faults.append(what)


def system(text):
    s = osr.SpatialReference()
    s.SetFromUserInput(text)
    s.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    return s


GRID = "EPSG:25829"
BRITISH = ("+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy "
           "+towgs84=446.448,-125.157,542.06,0.15,0.247,0.842,-20.489 +units=m +no_defs")


def osr_points(source):
    move = osr.CoordinateTransformation(system(GRID), system(source))

    def go(x, y):
        p = np.array(move.TransformPoints(np.column_stack([x.ravel(), y.ravel()]).tolist()))
        return p[:, 0].reshape(x.shape), p[:, 1].reshape(x.shape)
    return go


def homolosine(x, y):
    """North of 40 44' 11.8" and between 40 W and 180: Mollweide about 30 E."""
    lon, lat = osr_points("EPSG:4326")(x, y)
    lon, lat, a = np.radians(lon), np.radians(lat), 6378137.0
    theta = lat.copy()
    for _ in range(60):
        theta -= (2 * theta + np.sin(2 * theta) - np.pi * np.sin(lat)) / (2 + 2 * np.cos(2 * theta))
    east = a * (2 * np.sqrt(2) / np.pi * (lon - np.radians(30)) * np.cos(theta) + np.radians(30))
    # The lobes are moved towards the equator until they meet the sinusoidal
    # ones where both parallels are as long, at 40 44' 11.8".
    return east, a * (np.sqrt(2) * np.sin(theta) - 0.0528035274542)


score_file = gdal.Open(f"{outputs}/score.tif")
factors_file = gdal.Open(f"{outputs}/factors.tif")
X0, CELL, _, Y0, _, _ = score_file.GetGeoTransform()
COLS, ROWS = score_file.RasterXSize, score_file.RasterYSize
PAD = 1  # slopes read on beyond the rim


def points(k, pad=0):
    """The k × k points of every cell: rows × cols × k × k."""
    sub = (np.arange(k) + 0.5) / k
    x = X0 + CELL * (np.arange(-pad, COLS + pad)[:, None] + sub)
    y = Y0 - CELL * (np.arange(-pad, ROWS + pad)[:, None] + sub)
    shape = (len(y), len(x), k, k)
    return np.broadcast_to(x[None, :, None, :], shape), np.broadcast_to(y[:, None, :, None], shape)


class File:
    """A raster as it lies on disk; NaN where it is missing."""

    def __init__(self, name, missing, signed=False):
        ds = gdal.Open(f"{folder}/{name}")
        self.x0, self.dx, _, self.y0, _, dy = ds.GetGeoTransform()
        self.dy = -dy
        self.rows, self.cols = ds.RasterYSize, ds.RasterXSize
        raw = ds.ReadAsArray()
        self.z = (raw.view(np.int8) if signed else raw).astype(float)
        self.z[self.z == missing] = np.nan

    def position(self, x, y):
        return (x - self.x0) / self.dx, (self.y0 - y) / self.dy

    def place(self, col, row):
        return self.x0 + col * self.dx, self.y0 - row * self.dy

    def at(self, col, row):
        """Numbers of whole cells, NaN beside the file; and who is in it."""
        inside = (col >= 0) & (row >= 0) & (col < self.cols) & (row < self.rows)
        return np.where(inside, self.z[np.clip(row, 0, self.rows - 1), np.clip(col, 0, self.cols - 1)], np.nan), inside


def floor(p):
    """A place within 1e-6 of an edge lies on it."""
    return np.floor(p + 1e-6).astype(int)


def step(c, r):
    """SHIFT in source cells, from the points of neighbouring cells."""
    return SHIFT * max(np.abs(np.diff(c, axis=1)).max(), np.abs(np.diff(r, axis=0)).max())


def unsure(c, r):
    near = min(step(c, r), 1e-3)
    return (np.abs(c - np.rint(c)) < near) | (np.abs(r - np.rint(r)) < near)


def several(files, x, y):
    """The first of files on one lattice that knows the cell of a place."""
    c, r = files[0].position(x, y)
    value, covered = files[0].at(floor(c), floor(r))
    for f in files[1:]:
        more, inside = f.at(*map(floor, f.position(x, y)))
        value = np.where(np.isnan(value), more, value)
        covered = covered | inside
    return value, covered, unsure(c, r)


def ratio(files, go):
    """Grid cell side / map cell side, measured at the middle of the overlap."""
    f = files[0]
    x, y = points(1)
    c, r = f.position(*go(x, y))
    left = min(round((g.x0 - f.x0) / f.dx) for g in files)
    right = max(round((g.x0 - f.x0) / f.dx) + g.cols for g in files)
    col = (max(c.min(), left) + min(c.max(), right)) / 2
    row = (max(r.min(), 0) + min(r.max(), f.rows)) / 2
    # The map's cell seen from the grid: by the Jacobian of the way there.
    px, py = x.ravel(), y.ravel()
    i = np.argmin((c.ravel() - col) ** 2 + (r.ravel() - row) ** 2)
    h = CELL / 100
    cx, cy = f.position(*go(np.array([px[i] + h, px[i] - h, px[i], px[i]]), np.array([py[i], py[i], py[i] + h, py[i] - h])))
    jacobian = abs((cx[0] - cx[1]) * (cy[2] - cy[3]) - (cx[2] - cx[3]) * (cy[0] - cy[1])) / (2 * h) ** 2
    return round(CELL * np.sqrt(jacobian), 3)


def fineness(name, files, go):
    r = ratio(files, go)
    k = 1 if r <= 1 else int(np.ceil(2 * r))
    expect(abs(r - 1) > 0.02 and (k == 1 or 0.02 < 2 * r % 1 < 0.98), f"{name}: ratio {r}, {'refined' if k == 1 else f'{k} × {k} points'}")
    return r, k


def quantity(name, files, go, pad=0):
    """A quantity, how far off it may be, and where a border may blank it."""
    r, k = fineness(name, files, go)
    x, y = go(*points(k, pad))
    if r <= 1:
        return bilinear(files, x[:, :, 0, 0], y[:, :, 0, 0])
    value, _, near = several(files, x, y)
    n = (~np.isnan(value)).sum((2, 3))
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(2 * n >= k * k, np.nansum(value, (2, 3)) / n, np.nan)
    spread = np.nanmax(np.where(np.isnan(value), -1e9, value), (2, 3)) - np.nanmin(np.where(np.isnan(value), 1e9, value), (2, 3))
    odd = near.sum((2, 3))
    turned = (odd > 0) & (n < k * k) & (np.abs(2 * n - k * k) <= 2 * odd)
    return mean, np.maximum(spread, 0) * odd / np.maximum(n, 1), turned


def bilinear(files, x, y):
    value, _, near = several(files, x, y)
    f = files[0]
    c, r = f.position(x, y)
    c0, r0 = np.floor(c - 0.5).astype(int), np.floor(r - 0.5).astype(int)
    u, v = c - 0.5 - c0, r - 0.5 - r0
    top, all_, low, high = np.zeros(x.shape), np.zeros(x.shape), np.full(x.shape, 1e9), np.full(x.shape, -1e9)
    gap = np.zeros(x.shape, bool)
    for i, j, w in ((0, 0, (1 - u) * (1 - v)), (1, 0, u * (1 - v)), (0, 1, (1 - u) * v), (1, 1, u * v)):
        z = several(files, *f.place(c0 + i + 0.5, r0 + j + 0.5))[0]
        top += np.where(np.isnan(z), 0, w * z)
        all_ += np.where(np.isnan(z), 0, w)
        low, high, gap = np.fmin(low, z), np.fmax(high, z), gap | np.isnan(z)
    with np.errstate(invalid="ignore", divide="ignore"):
        out = np.where(np.isnan(value), np.nan, top / all_)
    return out, 2 * step(c, r) * np.maximum(high - low, 0), near & gap


def classes(name, files, go):
    r, k = fineness(name, files, go)
    value, _, near = several(files, *go(*points(k)))
    if k == 1:
        return value[:, :, 0, 0], near[:, :, 0, 0]
    known = (~np.isnan(value)).sum((2, 3))
    codes = np.unique(value[~np.isnan(value)])
    votes = np.stack([(value == c).sum((2, 3)) for c in codes])
    winner = codes[np.argmax(votes, 0)]  # of equals the first: the lowest code
    two = np.sort(votes, 0)[-2:]
    odd = near.sum((2, 3))
    turned = (odd > 0) & ((two[1] - two[0] <= 2 * odd) | (np.abs(2 * known - k * k) <= 2 * odd))
    return np.where(2 * known >= k * k, winner, np.nan), turned


def geology(name, field, go, tolerance):
    """Text of the last polygon that holds a centre; None where there is none."""
    x, y = points(1)
    x, y = (a[:, :, 0, 0] for a in go(x, y))
    out, near = np.full(x.shape, None, object), np.zeros(x.shape, bool)
    store = ogr.Open(f"{folder}/{name}")
    for f in store.GetLayer(0):
        ring = np.array(f.GetGeometryRef().GetGeometryRef(0).GetPoints())[:, :2]
        inside = np.zeros(x.shape, bool)
        for (ax, ay), (bx, by) in zip(ring[:-1], ring[1:]):
            crosses = (ay > y) != (by > y)
            with np.errstate(divide="ignore", invalid="ignore"):
                inside ^= crosses & (x < (bx - ax) * (y - ay) / (by - ay) + ax)
            t = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / ((bx - ax) ** 2 + (by - ay) ** 2), 0, 1)
            near |= np.hypot(x - ax - t * (bx - ax), y - ay - t * (by - ay)) < tolerance
        out[inside] = f.GetField(field) or None  # empty text is missing
    return out, near


def heights():
    """Two lattices, one by one: the first that knows the cell."""
    go, shape = osr_points("EPSG:4326"), (ROWS + 2 * PAD, COLS + 2 * PAD)
    out, may, turned, covered = np.full(shape, np.nan), np.zeros(shape), np.zeros(shape, bool), np.zeros(shape, bool)
    for name in ("dem/tile_N49.tif", "dem/tile_N50.tif"):
        f = File(name, np.inf)
        z, off, near = quantity(name, [f], go, PAD)
        c, r = f.position(*(a[:, :, 0, 0] for a in go(*points(1, PAD))))
        turned |= np.isnan(out) & (near | unsure(c, r) & np.isnan(z))
        covered |= f.at(floor(c), floor(r))[1]
        out, may = np.where(np.isnan(out), z, out), np.where(np.isnan(out), off, may)
    return np.where(np.isnan(out) & ~covered, 0.0, out), may, turned


def part(a, j, i):
    return a[1 + j:a.shape[0] - 1 + j, 1 + i:a.shape[1] - 1 + i]


def slope(z, off, turned):
    """Horn (1981), degrees; what may turn in a neighbour may turn here."""
    east = sum(w * (part(z, j, 1) - part(z, j, -1)) for j, w in ((-1, 1), (0, 2), (1, 1))) / (8 * CELL)
    south = sum(w * (part(z, 1, i) - part(z, -1, i)) for i, w in ((-1, 1), (0, 2), (1, 1))) / (8 * CELL)
    around = [(part(turned, j, i), part(off, j, i)) for j in (-1, 0, 1) for i in (-1, 0, 1)]
    may = np.degrees(np.max([o for _, o in around], axis=0) * np.sqrt(2) / CELL)
    return np.degrees(np.arctan(np.hypot(east, south))) + 0 * part(z, 0, 0), may, np.any([t for t, _ in around], axis=0)


def curve(values, table):
    x, y = zip(*sorted(table.items()))
    return np.interp(values, x, y) + 0 * values


def steepest(table):
    """The most that a step of one makes of a curve."""
    x, y = (np.array(a, float) for a in zip(*sorted(table.items())))
    return np.abs(np.diff(y) / np.diff(x)).max()


def rated(found, table):
    values, off, turned = found
    return curve(values, table), off * steepest(table), turned


def scores(codes, table, others):
    known = np.array([c is not None and c == c for c in codes.ravel()]).reshape(codes.shape)
    out = np.full(codes.shape, float(others))
    for code, value in table.items():
        out[codes == code] = value
    return np.where(known, out, np.nan)


def gdalwarp(name, nodata, want, what, scale=1.0, near=None):
    """What gdalwarp makes of an interpolated map, where both know something."""
    out = gdal.Warp("", f"{folder}/{name}", options=gdal.WarpOptions(
        format="MEM", dstSRS=GRID, outputBounds=(X0, Y0 - ROWS * CELL, X0 + COLS * CELL, Y0), width=COLS, height=ROWS,
        resampleAlg="bilinear", errorThreshold=0, srcNodata=nodata, dstNodata=float("nan"), outputType=gdal.GDT_Float64,
        warpOptions=["XSCALE=1", "YSCALE=1"], overviewLevel="NONE")).ReadAsArray() * scale
    both = ~np.isnan(out) & ~np.isnan(want)
    off = np.abs(out - want)[both].max()
    expect(both.sum() > 10000 and off < 2e-3, f"{what}: gdalwarp is at most {off:.1e} off in {both.sum()} cells")


def inner(found):
    return tuple(a[PAD:-PAD, PAD:-PAD] for a in found)


soil, soil_off, soil_odd = quantity("soil", [File("soil.tif", -32768)], homolosine)
soil, soil_off = soil * 0.1, soil_off * 0.1
# Files on one lattice are read as one: the first on top.
cover, cover_odd = classes("cover", [File("cover_west.tif", 0), File("cover_east.tif", 255)], osr_points("EPSG:4326"))
habitat, habitat_odd = classes("habitat", [File("habitat.tif", -128, signed=True)], osr_points("EPSG:3035"))
bedrock, bedrock_odd = geology("bedrock.gpkg", "rcs_d", osr_points(BRITISH), SHIFT * CELL)
drift, drift_odd = geology("drift.geojson", "Material", osr_points("EPSG:4326"), SHIFT * CELL / 70000)
ground = heights()

if CELL < 20:
    gdalwarp("soil.tif", -32768, soil, "soil", 0.1)
    north = np.where(np.isnan(quantity("north", [File("dem/tile_N50.tif", np.inf)], osr_points("EPSG:4326"))[0]), np.nan, inner(ground)[0])
    row = (np.arange(ROWS) + 0.5)[:, None] * np.ones(COLS)
    north[row > ROWS / 2 - 30] = np.nan  # the seam is ours to define
    gdalwarp("dem/tile_N50.tif", None, north, "heights")

factors = {
    "acid soil": (rated((soil, soil_off, soil_odd), {4.0: 0.2, 5.0: 1, 6.5: 0.7, 8.0: 0.05}), 3),
    "open cover": ((scores(cover, {10: 1, 20: 0.8, 30: 0.55, 40: 0.3, 255: 0.15, 0: 0.9}, 0.1), 0, cover_odd), 2),
    "habitat": ((scores(habitat, {-100: 0.25, -5: 0.5, 1: 0, 12: 0.6, 23: 1, 127: 0.75}, 0.4), 0, habitat_odd), 2),
    "bedrock": ((scores(bedrock, {"SANDSTONE": 1, "MUDSTONE, SILTSTONE AND SANDSTONE": 0.45, "GRANITE": 0.9}, 0.15), 0, bedrock_odd), 1.5),
    "drift": ((scores(drift, {"Blown sand": 1, "till": 0.35, "alluvium – silt": 0.2}, 0.65), 0, drift_odd), 1),
    "slope": (rated(slope(*ground), {0: 0.35, 6: 1, 20: 0.8, 45: 0.1}), 1),
    "height": (rated(inner(ground), {0: 0.9, 150: 0.2, 250: 1, 320: 0.4}), 0.5),
}
FLOOR, MUST = 0.02, "habitat"

sums, used = np.zeros((ROWS, COLS)), np.zeros((ROWS, COLS))
total = sum(w for _, w in factors.values())
for name in sorted(factors):
    (f, _, _), weight = factors[name]
    there = ~np.isnan(f)
    sums += np.where(there, weight * np.log(np.maximum(np.where(there, f, 1), FLOOR)), 0)
    used += np.where(there, weight, 0)
with np.errstate(invalid="ignore", divide="ignore"):
    joined = np.where(used > 0, np.exp(sums / used), np.nan)
joined[factors[MUST][0][0] == 0] = 0
joined = np.rint(joined * 16384) / 16384

# How far off a score may be where its factors are a little off.
loose = 1e-5 * np.ones((ROWS, COLS))
enough = 5000 if CELL < 50 else 200
odd_anywhere = np.zeros((ROWS, COLS), bool)
for number, (name, ((want, off, turned), weight)) in enumerate(factors.items(), 1):
    band = factors_file.GetRasterBand(number)
    got = band.ReadAsArray().astype(float)
    expect(band.GetDescription() == name, f"band {number} is {name}")
    expect((~np.isnan(want)).sum() > enough and np.nanstd(want) > 0.01, f"{name}: {int((~np.isnan(want)).sum())} cells to compare")
    most = off + 1e-5
    with np.errstate(invalid="ignore", divide="ignore"):
        loose += np.nan_to_num(weight / used * most / np.maximum(np.maximum(want - most, 0), FLOOR))
    blank = np.isnan(got) != np.isnan(want)
    apart = np.where(blank, 0, np.abs(np.nan_to_num(got) - np.nan_to_num(want)))
    odd = blank | (apart > most)
    odd_anywhere |= odd
    expect(np.median(most) < (5e-3 if CELL < 50 else 3e-2) and (turned.mean() < 0.02 or CELL > 50),
           f"{name}: a border may turn {int(turned.sum())} of {turned.size} cells; elsewhere mostly {np.median(most):.1e} may be off")
    expect(turned[odd].all() and odd.sum() <= 0.001 * odd.size + 1,
           f"{name}: {int(odd.sum())} cells differ ({int(blank.sum())} in what is missing), {int((odd & ~turned).sum())} of them without a border; else at most {apart[~odd].max():.1e}")

got = factors_file.GetRasterBand(len(factors) + 1).ReadAsArray().astype(float)
want = used / total
same = np.abs(got - want) < 1e-6
expect(same[~odd_anywhere].all() and len(np.unique(np.round(want, 9))) > 5, f"coverage: {len(np.unique(np.round(want, 9)))} values, {int((~same).sum())} cells differ")

got, want = score_file.ReadAsArray().astype(float), joined
blank = np.isnan(got) != np.isnan(want)
apart = np.where(blank | np.isnan(want), 0, np.abs(np.nan_to_num(got) - np.nan_to_num(want)))
expect(not blank[~odd_anywhere].any() and (~np.isnan(want)).sum() > enough and (want == 0).any(), "score: the same cells are missing")
expect((apart <= 1 / 16384 + loose)[~odd_anywhere].all() and np.median(loose) < 5e-3,
       f"score: {int((apart > 0).sum())} cells differ, {int((apart > 1 / 16384).sum())} by more than a step; off by {apart[~odd_anywhere].max():.1e} at most, mostly {np.median(loose):.1e} may be")
sys.exit(1 if faults else 0)
