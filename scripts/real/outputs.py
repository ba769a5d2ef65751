"""A run's outputs, read with GDAL and json, and what must hold for any run."""
import hashlib
import json
import pathlib

import numpy as np
from osgeo import gdal, ogr, osr
from osgeo_utils.samples import validate_cloud_optimized_geotiff as cog
from scipy import ndimage

gdal.UseExceptions()
ogr.UseExceptions()

STEP = 1 / 16384  # scores are multiples of it


class Findings:
    """Collects what is not as it should be; a check goes on after one."""

    def __init__(self):
        self.where, self.wrong, self.count = "", [], 0

    def that(self, ok, what):
        self.count += 1
        if not ok:
            self.wrong.append(f"{self.where}: {what}")

    def near(self, what, got, want, by):
        self.that(abs(got - want) <= by, f"{what} is {got:.9g}, not {want:.9g} within {by:g}")

    def same(self, what, got, want):
        self.that(got == want, f"{what} is {got}, not {want}")

    def cells(self, what, got, want, by, least):
        """Holds two grids together where both are known, cell by cell."""
        both = np.isfinite(got) & np.isfinite(want)
        self.that(both.sum() >= least, f"{what}: {both.sum()} cells to compare, fewer than {least}")
        off = np.where(both, np.abs(got - want), 0)
        at = np.unravel_index(off.argmax(), off.shape)
        self.that(off[at] <= by, f"{what}: row {at[0]}, column {at[1]} is {got[at]:.9g}, not {want[at]:.9g} within {by:g}; "
                                 f"{(off > by).sum()} of {both.sum()} cells differ")


class Run:
    """The outputs in a folder: rows of cells, the northern first, NaN missing."""

    def __init__(self, folder):
        self.folder = pathlib.Path(folder)
        self.account = json.loads((self.folder / "run.json").read_text())
        self.hotspots = json.loads((self.folder / "hotspots.geojson").read_text())
        grid = gdal.Open(str(self.folder / "score.tif"))
        self.crs = grid.GetSpatialRef()
        self.west, self.dx, _, self.north, _, dy = grid.GetGeoTransform()
        self.dy = -dy
        self.score = grid.ReadAsArray().astype("f8")
        factors = gdal.Open(str(self.folder / "factors.tif"))
        bands = [factors.GetRasterBand(i + 1) for i in range(factors.RasterCount)]
        self.layers = {b.GetDescription(): b.ReadAsArray().astype("f8") for b in bands}

    def classes(self, name):
        """The counted cells of a map's classes."""
        counts = {}
        for c in self.map(name)["classes"]:
            counts[c["name"]] = counts.get(c["name"], 0) + c["cells"]
        return counts

    def map(self, name):
        return next(m for m in self.account["maps"] if m["name"] == name)


def sound(run, f):
    """What holds for the outputs of every plan."""
    account_matches(run, f)
    for name in ("score.tif", "factors.tif"):
        warnings, errors, _ = cog.validate(str(run.folder / name), full_check=True)
        f.that(not warnings and not errors, f"{name} is no sound COG: {warnings + errors}")
    known = np.isfinite(run.score)
    f.same("cells scored", int(known.sum()), run.account["cells"]["scored"])
    f.that(known.any() and run.score[known].min() >= 0 and run.score[known].max() <= 1, "scores are not within 0 and 1")
    rule_holds(run, f)
    areas_listed(run, f)
    areas_are_valid(run, f)


def account_matches(run, f):
    listed = {o["file"]: o["sha256"] for o in run.account["outputs"]}
    there = {p.name: p for p in run.folder.iterdir()}
    f.same("files in the output folder", sorted(there), sorted([*listed, "run.json"]))
    for name, digest in listed.items():
        f.same(f"the hash of {name}", hashlib.sha256(there[name].read_bytes()).hexdigest(), digest)


def rule_holds(run, f):
    """Works the scores out again from factors.tif, by the formulas' definition."""
    how = run.account["parameters"]
    factors = run.account["factors"]
    names = [x["name"] for x in factors]
    f.same("bands of factors.tif", list(run.layers), names + ["coverage"])
    s = np.stack([run.layers[n] for n in names])
    w = np.array([x["weight"] for x in factors])[:, None, None]
    known = np.isfinite(s)
    weight = np.where(known, w, 0)
    f.cells("coverage", run.layers["coverage"], weight.sum(0) / w.sum(), 1e-6, known.any(0).sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        want = joined(how["rule"], np.where(known, s, 1), weight, how["floor"])
    want[weight.sum(0) == 0] = np.nan
    for x, layer in zip(factors, s):
        if x["must"]:
            want[layer == 0] = 0
    f.cells("score", run.score, want, STEP / 2 + 1e-6, run.account["cells"]["scored"])


def joined(rule, s, weight, floor):
    """Joins scores; a weight of 0 leaves one out."""
    kind, total, raised = rule["kind"], weight.sum(0), np.maximum(s, floor)
    if kind == "mean":
        return (weight * s).sum(0) / total
    if kind == "geometric mean":
        return np.exp((weight * np.log(raised)).sum(0) / total)
    if kind == "harmonic mean":
        return total / (weight / raised).sum(0)
    if kind == "product":
        return np.where(weight > 0, s, 1).prod(0)
    if kind == "least factor":
        return np.where(weight > 0, s, 2).min(0)
    counting = s[weight.max((1, 2)) > 0]  # ordered weights: all known, or the cell is not judged here
    complete = (weight > 0).sum(0) == len(counting)
    ranked = -np.sort(-counting, axis=0)
    return np.where(complete, np.tensordot(rule["order"], ranked, 1), np.nan)


def patches(run):
    """Cells at or above the threshold, joined over sides and corners: for each
    patch its hectares on the grid, mean and highest score."""
    how = run.account["parameters"]["hotspots"]
    labels, n = ndimage.label(np.nan_to_num(run.score, nan=-1) >= how["from"] - STEP / 2, np.ones((3, 3)))
    each = np.arange(1, n + 1)
    hectares = ndimage.sum_labels(np.ones(run.score.shape), labels, each) * run.dx * run.dy / 1e4
    return hectares, ndimage.mean(run.score, labels, each), ndimage.maximum(run.score, labels, each)


def areas_listed(run, f):
    """The list is that of the patches which scipy finds, in their order."""
    how = run.account["parameters"]["hotspots"]
    hectares, mean, best = patches(run)
    least = how["least"] / 1e4
    # The grid's own scale stands between these hectares and the ellipsoid's.
    f.that(not (np.abs(hectares / least - 1) < 0.005).any(), "a patch is just as large as `least`: change the plan, or the check may mislead")
    kept = hectares > least
    order = np.argsort(-(hectares * mean)[kept], kind="stable")[: how["most"]]
    got = [x["properties"] for x in run.hotspots["features"]]
    f.that(len(got) > 0, "no area is listed")
    f.same("areas listed", len(got), len(order))
    f.same("ranks", [p["rank"] for p in got], list(range(1, len(got) + 1)))
    for p, h, m, b in zip(got, hectares[kept][order], mean[kept][order], best[kept][order]):
        where = f"area {p['rank']}"
        f.near(f"{where}: area × mean", p["area_ha"] * p["mean"], h * m, 0.003 * h * m + 0.001)
        if abs(p["area_ha"] / h - 1) < 0.003:  # equal products may change places
            f.near(f"{where}: mean", p["mean"], m, 0.004)
        f.that(p["max"] >= p["mean"] >= how["from"] - STEP, f"{where}: mean {p['mean']} and max {p['max']} do not fit")
    f.near("the best score of all", max(p["max"] for p in got), best[kept][order].max(), 5e-5)


def areas_are_valid(run, f):
    f.that("crs" not in run.hotspots, "hotspots.geojson has a crs member (RFC 7946, section 4)")
    source = ogr.Open(str(run.folder / "hotspots.geojson"))
    layer = source.GetLayer()
    f.same("features that OGR reads", layer.GetFeatureCount(), len(run.hotspots["features"]))
    for feature, raw in zip(layer, run.hotspots["features"]):
        shape, p = feature.GetGeometryRef(), raw["properties"]
        where = f"area {p['rank']}"
        f.that(shape.IsValid(), f"{where} is no valid shape")
        point = ogr.CreateGeometryFromWkt(f"POINT ({p['point'][0]} {p['point'][1]})")
        f.that(shape.Contains(point), f"{where} does not hold its point {p['point']}")
        for polygon in polygons(raw["geometry"]):
            turns = [turn(np.array(ring)) for ring in polygon]
            f.that(turns[0] > 0 and all(t < 0 for t in turns[1:]), f"{where}: rings turn the wrong way (RFC 7946, section 3.1.6)")
        hectares = ellipsoidal(shape, p["point"])
        f.near(f"{where}: hectares", p["area_ha"], hectares, 0.002 * hectares)


def polygons(geometry):
    return geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]


def turn(ring):
    """Twice the signed area: above 0 for a ring that turns left."""
    x, y = (ring - ring[0]).T
    return (x[:-1] * y[1:] - x[1:] * y[:-1]).sum()


def ellipsoidal(shape, centre):
    """Hectares of a shape in degrees, by an equal-area projection around it."""
    flat = osr.SpatialReference()
    flat.ImportFromProj4(f"+proj=laea +lon_0={centre[0]} +lat_0={centre[1]} +datum=WGS84")
    degrees = osr.SpatialReference()
    degrees.ImportFromEPSG(4326)
    degrees.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    copy = shape.Clone()
    copy.Transform(osr.CoordinateTransformation(degrees, flat))
    return copy.GetArea() / 1e4
