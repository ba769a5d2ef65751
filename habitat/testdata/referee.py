"""Works out a plan anew with GDAL, numpy and scipy, and compares.

    referee.py FOLDER OUTPUTS

FOLDER is an Ellerdown with inputs/; the plan stands in referee_test.go and,
in other words, in `factors` below. Quantities are refined by gdalwarp's
bilinear and classes by its nearest neighbour, both without approximation
(-et 0) and at fixed scales; geology and area are burnt by RasterizeLayer;
slopes follow Horn (1981) by his formula; shares and distances are counted by
scipy; everything is joined in float64.
"""
import sys

import numpy as np
from osgeo import gdal, ogr, osr
from scipy import ndimage

gdal.UseExceptions()
ogr.UseExceptions()
folder, outputs = sys.argv[1:]
PAD = 60  # cells beyond the grid that neighbourhoods may read
faults = []


def expect(holds, what):
    print(("" if holds else "WRONG: ") + what)
    if not holds:
        faults.append(what)


score_file = gdal.Open(f"{outputs}/score.tif")
factors_file = gdal.Open(f"{outputs}/factors.tif")
x0, cell, _, y0, _, _ = score_file.GetGeoTransform()
cols, rows = score_file.RasterXSize, score_file.RasterYSize
wkt = score_file.GetProjection()
west, north = x0 - PAD * cell, y0 + PAD * cell
wide, high = cols + 2 * PAD, rows + 2 * PAD
inner = (slice(PAD, PAD + rows), slice(PAD, PAD + cols))


def warp(name, method):
    """A map on the padded grid, NaN where it is missing."""
    out = gdal.Warp("", f"{folder}/inputs/{name}", options=gdal.WarpOptions(
        format="MEM", dstSRS=wkt, width=wide, height=high, resampleAlg=method, errorThreshold=0,
        outputBounds=(west, north - high * cell, west + wide * cell, north), outputType=gdal.GDT_Float64,
        dstNodata=float("nan"), warpOptions=["XSCALE=1", "YSCALE=1"], overviewLevel="NONE"))
    return out.ReadAsArray()


def burn(path, value, start, densify):
    """Polygons on the padded grid by their value; later ones win."""
    source = ogr.Open(path)
    layer = source.GetLayer(0)
    target = osr.SpatialReference(wkt)
    target.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    own = layer.GetSpatialRef()
    own.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    move = osr.CoordinateTransformation(own, target)
    memory = ogr.GetDriverByName("Memory").CreateDataSource("")
    shapes = memory.CreateLayer("shapes", target)
    shapes.CreateField(ogr.FieldDefn("value", ogr.OFTReal))
    for feature in layer:
        geometry = feature.GetGeometryRef().Clone()
        geometry.Segmentize(densify)
        geometry.Transform(move)
        new = ogr.Feature(shapes.GetLayerDefn())
        new.SetGeometry(geometry)
        new.SetField("value", float(value(feature)))
        shapes.CreateFeature(new)
    out = gdal.GetDriverByName("MEM").Create("", wide, high, 1, gdal.GDT_Float64)
    out.SetGeoTransform((west, cell, 0, north, 0, -cell))
    out.SetProjection(wkt)
    out.GetRasterBand(1).Fill(start)
    gdal.RasterizeLayer(out, [1], shapes, options=["ATTRIBUTE=value"])
    return out.ReadAsArray()


def slope(z):
    """Horn (1981), degrees; missing beside what is missing."""
    a, b, c = z[:-2, :-2], z[:-2, 1:-1], z[:-2, 2:]
    d, f = z[1:-1, :-2], z[1:-1, 2:]
    g, h, i = z[2:, :-2], z[2:, 1:-1], z[2:, 2:]
    east = ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * cell)
    south = ((g + 2 * h + i) - (a + 2 * b + c)) / (8 * cell)
    out = np.full(z.shape, np.nan)
    out[1:-1, 1:-1] = np.degrees(np.arctan(np.hypot(east, south))) + 0 * z[1:-1, 1:-1]
    return out


def share(members, known, radius):
    """Part of the known cells within a radius."""
    n = int(radius / cell)
    y, x = np.mgrid[-n:n + 1, -n:n + 1]
    disc = (np.hypot(x, y) * cell <= radius).astype(float)
    yes = ndimage.convolve((members & known).astype(float), disc, mode="constant")
    all_ = ndimage.convolve(known.astype(float), disc, mode="constant")
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(all_ > 0.5, yes / all_, np.nan)


def distance(members, known, most):
    """To the nearest centre of a member."""
    far = ndimage.distance_transform_edt(~members) * cell if members.any() else np.full(members.shape, np.inf)
    return np.where(known, np.minimum(far, most), np.nan)


def edge(members, known, most, side="both"):
    """To the nearest centre of known ground on the other side; 0 on a side that is not measured."""
    inside, outside = distance(known & ~members, known, most), distance(members, known, most)
    return {"inside": inside, "outside": outside, "both": np.where(members, inside, outside)}[side]


def curve(values, points):
    x, y = zip(*sorted(points.items()))
    return np.interp(values, x, y) + 0 * values


def scores(codes, table, others):
    out = np.full(codes.shape, others, float)
    for code, value in table.items():
        out[codes == code] = value
    return np.where(np.isnan(codes), np.nan, out)


COVER = {"beech": 107, "oak": 109, "birch": 114, "mixed": 118, "spruce": 126, "heath": 133, "built": 185, "water": 194}
ROCK = {"sandstone": 1, "plateau sand": 2, "gritstone": 3}
OTHER_ROCK = 9

ground = warp("dem.tif", "near")
cover = warp("cover.tif", "near")
# A refined value is missing where the map cell that holds the point is.
soil = np.where(np.isnan(warp("soil_ph.tif", "near")), np.nan, warp("soil_ph.tif", "bilinear") * 0.1)
rock = burn(f"{folder}/inputs/geology.gpkg", lambda f: ROCK.get(f.GetField("rock"), OTHER_ROCK), float("nan"), 1e9)
area = burn(f"{folder}/inputs/area.geojson", lambda f: 1, 0, 0.0001) == 1

known = ~np.isnan(cover)
woods = np.isin(cover, [COVER[w] for w in ("beech", "oak", "birch", "mixed")])
steepness = slope(ground)
woodland = share(woods, known, 250)
to_heath = distance(cover == COVER["heath"], known, 500)
trees = scores(cover, {COVER["beech"]: 1, COVER["oak"]: 0.9, COVER["mixed"]: 0.8, COVER["birch"]: 0.7, COVER["spruce"]: 0.5}, 0)

kinds = warp("speckled_c.tif", "near")
# Lasting ground: one map that shows other ground decides, else one that shows nothing.
was, is_wood = np.isin(kinds, range(1, 7)), woods
known_old = (known & ~is_wood) | (~np.isnan(kinds) & ~was) | (known & ~np.isnan(kinds))
lasting = was & is_wood & known_old

factors = {
    "acid soil": curve(soil, {3.4: 0.3, 4.2: 1, 5.0: 1, 6.2: 0.2, 7.2: 0.05}),
    "drained rock": scores(rock, {ROCK["sandstone"]: 1, ROCK["plateau sand"]: 1, ROCK["gritstone"]: 0.85}, 0.2),
    "hosts": trees,
    "wood all round": curve(woodland, {0: 0.1, 0.3: 0.4, 0.8: 1}),
    "sloping ground": curve(steepness, {0: 0.45, 3: 0.8, 6: 1, 22: 1, 38: 0.4}),
    "heath near by": curve(to_heath, {0: 1, 120: 1, 500: 0.5}),
    "roots": curve(distance(woods | (cover == COVER["spruce"]), known, 40), {0: 1, 10: 0.8, 20: 0.5, 40: 0.1}),
    "banks": curve(edge(woods, known, 150), {10: 1, 30: 0.6, 150: 0.2}),
    "old core": curve(edge(woods, known, 150, "inside"), {0: 0.3, 10: 0.4, 150: 1}),
    "old": np.where(known_old, lasting.astype(float), np.nan),
    "old round": share(lasting, known_old, 60),
    "by old wood": curve(distance(lasting, known_old, 80), {0: 1, 80: 0.2}),
    "off the heath": curve(edge(cover == COVER["heath"], known, 300, "outside"), {0: 0.2, 300: 1}),
}
weights = {"acid soil": 3, "drained rock": 2, "hosts": 3, "wood all round": 2, "sloping ground": 1, "heath near by": 1, "roots": 1, "banks": 1, "old core": 1, "off the heath": 1, "old": 1, "old round": 1, "by old wood": 1}
FLOOR, MUST = 0.02, "hosts"

sums, used, total = np.zeros((high, wide)), np.zeros((high, wide)), sum(weights.values())
for name in sorted(factors):
    f = factors[name]
    there = ~np.isnan(f)
    sums += np.where(there, weights[name] * np.log(np.maximum(np.where(there, f, 1), FLOOR)), 0)
    used += np.where(there, weights[name], 0)
with np.errstate(invalid="ignore", divide="ignore"):
    joined = np.where(used > 0, np.exp(sums / used), np.nan)
joined[(factors[MUST] == 0) & (used > 0)] = 0
joined = np.rint(joined * 16384) / 16384
kept_out = np.isin(cover, [COVER["water"], COVER["built"]]) | (np.nan_to_num(steepness) > 35)
joined[~area | np.isnan(ground) | kept_out] = np.nan
coverage = used / total


def edges(codes):
    """Cells beside which the class changes: a border may pass their centre."""
    filled = np.nan_to_num(codes, nan=-1)
    return (ndimage.maximum_filter(filled, 3) != ndimage.minimum_filter(filled, 3))[inner]


expect(factors_file.RasterCount == len(factors) + 1, "a band a factor, and coverage")
inside = area[inner]
expect(0.1 < inside.mean() < 1, f"{inside.mean():.0%} of the grid lies in the area")
uneven = {"drained rock": edges(rock), "hosts": edges(cover), "heath near by": np.zeros_like(inside), "acid soil": edges(np.isnan(soil).astype(float))}
odd_anywhere = np.zeros_like(inside)
for number in range(1, len(factors) + 1):
    band = factors_file.GetRasterBand(number)
    name = band.GetDescription()
    want = np.where(inside, factors[name][inner], np.nan)
    got = band.ReadAsArray().astype(float)
    mask_odd = np.isnan(got) != np.isnan(want)
    off = np.where(mask_odd, 0, np.abs(np.nan_to_num(got) - np.nan_to_num(want)))
    odd = mask_odd | (off > 1e-5)
    odd_anywhere |= odd
    n, explained = int(odd.sum()), uneven.get(name)
    expect((~np.isnan(want)).sum() > 10000 and np.nanstd(want) > 0.01, f"{name}: there is something to compare")
    expect(n == 0 or n <= 10 and explained is not None and explained[odd].all(),
           f"{name}: {n} of {odd.size} cells differ, {int(mask_odd.sum())} of them in what is missing; else at most {off[~odd].max():.1e} off")

got = factors_file.GetRasterBand(len(factors) + 1).ReadAsArray().astype(float)
want = np.where(inside, coverage[inner], np.nan)
same = (np.isnan(got) == np.isnan(want)) & (np.abs(np.nan_to_num(got) - np.nan_to_num(want)) < 1e-6)
expect(same[~odd_anywhere].all() and len(np.unique(want[inside])) > 2, f"coverage is alike in all but {int((~same).sum())} cells, and has {len(np.unique(want[inside]))} values")

got = score_file.ReadAsArray().astype(float)
want = joined[inner]
expect(not (np.isnan(got) != np.isnan(want))[~odd_anywhere].any(), "score: the same cells are missing")
both = ~np.isnan(got) & ~np.isnan(want)
steps = np.abs(np.where(both, got, 0) - np.where(both, want, 0)) * 16384
expect(both.sum() > 10000 and (got[both] * 16384 % 1 == 0).all(), f"score: {both.sum()} cells, all in steps of 1/16384")
expect((steps <= 1).sum() >= 0.999 * steps.size, f"score: {(steps > 1).sum()} cells are more than a step off, {(steps > 0).sum()} a step")
expect((steps[~odd_anywhere] <= 1).all(), "score: none is but where a factor differs")
sys.exit(1 if faults else 0)
