"""What each plan of testdata must come to: one function a plan.

Figures are of three kinds. Some were published or found by other programs
beforehand and stand here as numbers. Some are asked of GDAL and scipy at the
time. Some follow from the definition in a line of numpy.
"""
import csv

import numpy as np
from osgeo import gdal, ogr, osr
from scipy import ndimage

import convert


def raster(path, band=1):
    source = gdal.Open(str(path))  # a band does not keep its file open
    return source.GetRasterBand(band).ReadAsArray().astype("f8")


def cropped(path, run):
    """The cells of a map whose lattice the run's grid is a part of."""
    source = gdal.Open(str(path))
    west, dx, _, north, _, dy = source.GetGeoTransform()
    rows, cols = run.score.shape
    return source.ReadAsArray(round((run.west - west) / dx), round((run.north - north) / dy), cols, rows).astype("f8")


def in_memory(cells, run, grown=0):
    """Cells of the run's grid, grown on all sides, as a GDAL raster."""
    out = gdal.GetDriverByName("MEM").Create("", cells.shape[1], cells.shape[0], 1, gdal.GDT_Float32)
    out.SetGeoTransform((run.west - grown * run.dx, run.dx, 0, run.north + grown * run.dy, 0, -run.dy))
    out.GetRasterBand(1).SetNoDataValue(-9999)
    out.GetRasterBand(1).WriteArray(np.where(np.isfinite(cells), cells, -9999))
    return out


def terrain(cells, run, what, **more):
    """What gdaldem makes of heights; NaN along the rim and beside gaps."""
    done = gdal.DEMProcessing("", in_memory(cells, run), what, format="MEM", **more)
    out = done.ReadAsArray().astype("f8")
    return np.where(out == -9999, np.nan, out)


def warped(path, run, grown=0):
    """What gdalwarp makes of a map on the run's grid, between cell centres."""
    rows, cols = run.score.shape
    bounds = (run.west - grown * run.dx, run.north - (rows + grown) * run.dy,
              run.west + (cols + grown) * run.dx, run.north + grown * run.dy)
    done = gdal.Warp("", str(path), format="MEM", dstSRS=run.crs, outputBounds=bounds, xRes=run.dx, yRes=run.dy,
                     resampleAlg="bilinear", errorThreshold=0, warpOptions=["XSCALE=1", "YSCALE=1"],
                     outputType=gdal.GDT_Float32, dstNodata=-9999)
    out = done.ReadAsArray().astype("f8")
    return np.where(out == -9999, np.nan, out)


def disc(cells):
    y, x = np.mgrid[-cells : cells + 1, -cells : cells + 1]
    return (x * x + y * y <= cells * cells).astype(float)


def share(wanted, known, cells):
    """Share of the known cells within a radius that are wanted ones."""
    count = lambda a: np.rint(ndimage.convolve(a.astype(float), disc(cells), mode="constant"))
    with np.errstate(invalid="ignore"):
        return count(wanted & known) / count(known)


def distance(wanted, cell):
    return ndimage.distance_transform_edt(~wanted) * cell


def jura(run, maps, f):
    rock, use = raster(maps / "jura_rock.tif"), raster(maps / "jura_land_use.tif")
    f.same("cells by rock", run.classes("rock"),
           {"Argovian": 1185, "Kimmeridgian": 2036, "Sequanian": 1628, "Portlandian": 316, "Quaternary": 792})
    f.same("cells by land use", run.classes("land use"), {"Forest": 986, "Pasture": 1553, "Meadow": 3247, "Tillage": 171})
    f.same("cells scored", int(np.isfinite(run.score).sum()), 5957)
    lime = np.array([np.nan, 0.5, 1, 0.8, 1, 0.15])[rock.astype(int)]
    f.cells("lime", run.layers["lime"], lime, 1e-6, 5957)
    near = np.interp(distance(use == 1, 50), [0, 50, 200, 400], [1, 0.6, 0.1, 0])
    f.cells("near trees", run.layers["near trees"], near, 1e-6, 5957)
    half = np.interp(share(use == 1, use > 0, 4), [0, 0.3, 0.7, 1], [0, 1, 1, 0.5])
    f.cells("half open", run.layers["half open"], half, 1e-6, 5957)
    calm = np.interp(share(use == 4, use > 0, 3), [0, 0.5], [1, 0.2])
    f.cells("undisturbed", run.layers["undisturbed"], calm, 1e-6, 5957)
    table = np.array([[1, 1, 3, 5], [1, 1, 3, 5], [1 / 3, 1 / 3, 1, 2], [1 / 5, 1 / 5, 1 / 2, 1]])
    values, vectors = np.linalg.eig(table)
    first = np.abs(vectors[:, values.real.argmax()].real)
    for x, want in zip(run.account["factors"], first / first.sum()):
        f.near(f"weight of {x['name']}", x["weight"], want, 1e-9)


def volcano(run, maps, f):
    heights = raster(maps / "volcano.tif")
    slope = run.layers["steep"] * 90
    inside = slope[np.isfinite(slope)]
    f.same("cells with a slope", inside.size, 5015)
    # gdaldem 3.6.2 and numpy, of the matrix as R holds it: row 42, column 30.
    f.near("mean slope", inside.mean(), 14.89747, 1e-5)
    f.near("steepest slope", inside.max(), 43.03247, 1e-5)
    f.near("slope of one cell", slope[60 - 30, 86 - 42], 19.69460, 1e-5)
    f.cells("slope", slope, terrain(heights, run, "slope"), 1e-5, 5015)
    aspect = terrain(heights, run, "aspect")
    f.cells("northness", run.layers["warm"] * 2 - 1, np.cos(np.radians(aspect)), 1e-5, 4500)
    f.cells("eastness", run.layers["morning sun"] * 2 - 1, np.sin(np.radians(aspect)), 1e-5, 4500)
    f.cells("aspect", run.layers["aspect"] * 360, aspect, 1e-4, 4400)
    # Seen along the matrix, where rows run west and columns north, 155.22485.
    f.near("aspect of one cell", run.layers["aspect"][60 - 30, 86 - 42] * 360, (90 - 155.22485) % 360, 2e-5)
    f.cells("relative position", run.layers["position"] * 32 - 16, terrain(heights, run, "TPI"), 1e-5, 5015)
    # Minimax levels by Dijkstra, and by scikit-image's reconstruction.
    hollows(run.layers["crater"] * 64, f, cells=103, metres=887, deepest=20)
    f.near("depth at one cell", run.layers["crater"][60 - 33, 86 - 29] * 64, 20, 1e-5)
    f.near("level at one cell", run.layers["level"][60 - 33, 86 - 29] * 256, 168, 1e-4)
    f.that(run.account["cells"]["kept_out"] == (inside > 40).sum() > 0, "not the cells steeper than 40 degrees are kept out")


def hollows(depth, f, cells, metres, deepest):
    f.same("cells in hollows", int((depth > 0).sum()), cells)
    f.near("depth of all hollows", np.nansum(depth), metres, 1e-3)
    f.near("deepest hollow", np.nanmax(depth), deepest, 1e-5)


def bend(z, cell, across):
    """Profile or tangential curvature after Minár, Evans & Jenčo (2020); NaN
    along the rim and on level ground."""
    n = {(y, x): z[1 + y : z.shape[0] - 1 + y, 1 + x : z.shape[1] - 1 + x] for y in (-1, 0, 1) for x in (-1, 0, 1)}
    row = lambda y: n[y, -1] + n[y, 0] + n[y, 1]
    col = lambda x: n[-1, x] + n[0, x] + n[1, x]
    p, q = (col(1) - col(-1)) / (6 * cell), (row(-1) - row(1)) / (6 * cell)
    r, t = (col(1) + col(-1) - 2 * col(0)) / (3 * cell**2), (row(1) + row(-1) - 2 * row(0)) / (3 * cell**2)
    s = (n[-1, 1] + n[1, -1] - n[1, 1] - n[-1, -1]) / (4 * cell**2)
    g = p * p + q * q
    with np.errstate(invalid="ignore", divide="ignore"):
        if across:
            out = -(q * q * r - 2 * p * q * s + p * p * t) / (g * (1 + g) ** 0.5)
        else:
            out = -(p * p * r + 2 * p * q * s + q * q * t) / (g * (1 + g) ** 1.5)
    return np.pad(out, 1, constant_values=np.nan)


def heat_load(run, slope, aspect):
    """Equation 1 of McCune & Keon (2002), in the UTM zone around 87 degrees
    west: slope and aspect, from the grid's north, in degrees."""
    rows, cols = slope.shape
    x, y = np.meshgrid(run.west + (np.arange(cols) + 0.5) * run.dx, run.north - (np.arange(rows) + 0.5) * run.dy)
    to_degrees = osr.CoordinateTransformation(run.crs, convert.reference("EPSG:4326"))
    places = np.radians(np.array(to_degrees.TransformPoints(np.column_stack([x.ravel(), y.ravel()])))[:, :2])
    lon, lat = (places[:, i].reshape(rows, cols) for i in (0, 1))
    turn = np.degrees(np.arctan(np.tan(lon + np.radians(87)) * np.sin(lat)))  # of the grid's north, clockwise
    folded = np.radians(np.abs(180 - np.abs((aspect + turn) % 360 - 225)))
    s = np.radians(slope)
    return np.exp(-1.467 + 1.582 * np.cos(lat) * np.cos(s) - 1.5 * np.cos(folded) * np.sin(s) * np.sin(lat)
                  - 0.262 * np.sin(lat) * np.sin(s) + 0.607 * np.sin(folded) * np.sin(s))


def jacksboro_75(run, maps, f):
    slope = run.layers["steep"] * 90
    inside = slope[np.isfinite(slope)]
    f.same("cells with a slope", inside.size, 137142)
    # gdaldem 3.6.2 and numpy.
    f.near("mean slope", inside.mean(), 14.156698, 2e-6)
    f.near("spread of slope", inside.std(), 7.769578, 2e-6)
    f.near("steepest slope", inside.max(), 38.733631, 5e-6)
    f.near("slope of one cell", slope[172, 201], 14.413781, 5e-6)
    f.same("level cells", int((inside == 0).sum()), 235)
    heights = raster(maps / "jacksboro_75.tif")
    f.cells("slope", slope, terrain(heights, run, "slope"), 1e-5, 137142)
    aspect = run.layers["aspect"] * 360
    f.near("aspect of one cell", aspect[172, 201], 2.973732, 2e-5)
    f.cells("aspect", aspect, terrain(heights, run, "aspect"), 1e-4, 137142 - 235)
    inner = (slice(1, -1), slice(1, -1))
    for name, back, what, more in (("rough", lambda s: 512 * s, "TRI", {"alg": "Riley"}), ("uneven", lambda s: 128 * s, "TRI", {"alg": "Wilson"}),
                                   ("position", lambda s: 256 * s - 128, "TPI", {})):
        got = back(run.layers[name])
        f.cells(name, got, terrain(heights, run, what, **more), 5e-5, 137142)
        figure, want = {"rough": (np.mean, 53.531264), "uneven": (np.mean, 16.206534), "position": (np.std, 6.711143)}[name]
        f.near(f"{figure.__name__} of {name}", figure(got[inner]), want, 5e-6)
    f.cells("profile curvature", run.layers["profile"] * 0.125 - 0.0625, bend(heights, 75, False), 1e-8, 136000)
    f.cells("tangential curvature", run.layers["tangential"] * 0.125 - 0.0625, bend(heights, 75, True), 1e-8, 136000)
    f.cells("heat load", run.layers["warm"] * 2, heat_load(run, slope, aspect), 1e-4, 136000)
    # Minimax levels by Dijkstra, and by scikit-image's reconstruction.
    hollows(run.layers["hollow"] * 64, f, cells=6373, metres=34124, deepest=32)
    f.near("depth at one cell", run.layers["hollow"][127, 319] * 64, 32, 1e-5)


def jacksboro(run, maps, f):
    grown = warped(maps / "jacksboro.tif", run, grown=10)
    inner = (slice(10, -10), slice(10, -10))
    cells = run.account["cells"]["in_area"]
    f.cells("height", run.layers["high"] * 1280, grown[inner], 0.005, cells)
    f.cells("slope", run.layers["steep"] * 90, terrain(grown, run, "slope")[inner], 0.005, cells)
    around = ndimage.convolve(grown, disc(10) / disc(10).sum())
    f.cells("mean height within 300 m", run.layers["smoothed"] * 1280, around[inner], 0.005, cells)
    flat = run.layers["steep"] * 90 < 0.5  # on nearly level ground a hair turns the aspect
    aspect = np.where(flat, np.nan, terrain(grown, run, "aspect")[inner])
    f.cells("northness", run.layers["shade"] * 2 - 1, np.cos(np.radians(aspect)), 0.005, 0.95 * cells)


def olinda(run, maps, f):
    cells = run.account["cells"]["in_area"]
    # 60 m are 2.105 cells of the picture, twice that rounded up is 5.
    heights = 63 - (run.layers["low"]) * 64
    want = np.clip(warped(maps / "olinda_dem_utm25s.tif", run), -1, 63)
    f.cells("height", heights, want, 1e-4, cells)
    f.cells("red", 256 * (1 - run.layers["dark in red"]), coarsened(maps / "L7_ETMs.tif", 3, run, 5), 1e-4, cells)
    f.cells("near infrared", 256 * run.layers["bright leaves"], coarsened(maps / "L7_ETMs.tif", 4, run, 5), 1e-4, cells)
    how = run.map("ground")["read"][0]["transformation"]
    f.that("SIRGAS 2000 to WGS 84" in how, f"the height map's own shift to WGS 84 is not used: {how}")


def coarsened(path, band, run, k):
    """Mean of k × k points a cell, each reading the map cell that holds it;
    missing with fewer than half of them on the map."""
    source = gdal.Open(str(path))
    west, step, _, north, _, _ = source.GetGeoTransform()
    cells = np.pad(raster(path, band), ((0, k), (0, k)), constant_values=np.nan)
    rows, cols = run.score.shape
    east = run.west + (np.arange(cols * k) + 0.5) * run.dx / k
    south = run.north - (np.arange(rows * k) + 0.5) * run.dy / k
    points = cells[np.ix_(((north - south) // step).astype(int), ((east - west) // step).astype(int))]
    points = points.reshape(rows, k, cols, k).swapaxes(1, 2).reshape(rows, cols, k * k)
    enough = np.isfinite(points).sum(2) * 2 >= k * k
    return np.where(enough, np.nanmean(np.where(enough[..., None], points, 0), 2), np.nan)


def olinda_heights(run, maps, f):
    own = gdal.Open(str(maps / "olinda_dem_utm25s.tif"))
    f.that(run.crs.IsSame(own.GetSpatialRef()), f"the scores lie in another CRS than the heights: {run.crs.ExportToWkt()}")
    slope = 64 * (1 - run.layers["gentle"])
    f.cells("slope", slope, terrain(own.ReadAsArray(), run, "slope", slopeFormat="percent"), 1e-5, 109 * 109)
    # 89.994 m are 3.158 cells of the picture, twice that rounded up is 7.
    red = coarsened(maps / "L7_ETMs.tif", 3, run, 7)
    f.cells("red", 256 * (1 - run.layers["dark in red"]), red, 1e-4, 111 * 111)


def luxembourg(run, maps, f):
    source = ogr.Open(str(maps / "lux.shp"))
    counted = run.classes("canton")
    for feature in source.GetLayer():  # its own field AREA: whole square kilometres
        name, area = feature["NAME_2"], feature["AREA"]
        f.near(f"square kilometres of {name}", counted[name] / 100, area, 0.015 * area + 0.5)
    heights = run.layers["high"] * 1024
    f.cells("height", heights, warped(maps / "elev.tif", run), 0.01, 250000)
    f.cells("slope", run.layers["steep"] * 90, terrain(heights, run, "slope"), 1e-4, 240000)
    leave = run.layers["leave"]
    inside = share(leave > 0, np.isfinite(leave), 20)
    f.cells("inside", run.layers["inside"], inside, 1e-6, 250000)


def gorillas(run, maps, f):
    source = ogr.Open(str(maps / "gorillas_area.gpkg"))
    area = sum(feature.GetGeometryRef().GetArea() for feature in source.GetLayer())
    f.near("square metres of the sanctuary", run.account["cells"]["in_area"] * run.dx * run.dy, area, 0.005 * area)
    vegetation = cropped(maps / "vegetation.asc", run)
    scores = np.array([np.nan, 0.3, 0.5, 0.1, 1, 0.5, 0.5])[np.where(vegetation > 0, vegetation, 0).astype(int)]
    f.cells("plants", run.layers["plants"], scores, 1e-6, 20000)
    heights = cropped(maps / "gorillas_elevation.tif", run)
    heights[heights == -9999] = np.nan
    f.cells("height", 1000 + 1200 * run.layers["high"], np.clip(heights, 1000, 2200), 0.1, 20000)
    water = cropped(maps / "gorillas_waterdist.tif", run)
    away = np.interp(np.where(water == -9999, np.nan, water), [0, 300], [0.5, 1])
    f.cells("away from water", run.layers["away from water"], away, 1e-4, 20000)
    with open(maps / "gorillas_nests.csv") as file:
        nests = [run.score[int((run.north - float(p["y"])) / run.dy), int((float(p["x"]) - run.west) / run.dx)] for p in csv.DictReader(file)]
    nests = np.array(nests)
    f.same("nests on scored ground", int(np.isfinite(nests).sum()), 647)
    ground = np.sort(run.score[np.isfinite(run.score)])
    rank = (np.searchsorted(ground, nests, "left") + np.searchsorted(ground, nests, "right")) / 2 / ground.size
    # By chance 0.5, and for 647 nests beyond 0.557 once in some millions.
    f.that(rank.mean() > 0.557, f"nests stand on ground no better than any: mean rank {rank.mean():.3f}")


def covered(path, run, radius, field, where=""):
    """For each cell what the last point within the radius of its centre says;
    None without one."""
    rows, cols = run.score.shape
    x, y = np.meshgrid(run.west + (np.arange(cols) + 0.5) * run.dx, run.north - (np.arange(rows) + 0.5) * run.dy)
    out = np.full((rows, cols), None, object)
    source = ogr.Open(str(path))
    layer = source.GetLayer()
    layer.SetAttributeFilter(where or None)
    for feature in layer:
        point = feature.GetGeometryRef()
        out[np.hypot(x - point.GetX(), y - point.GetY()) <= radius * (1 + 1e-9)] = feature[field]
    return out


def jura_soil(run, maps, f):
    copper = covered(maps / "jura_soil.gpkg", run, 80, "copper")
    known = np.equal(copper, None) == 0
    on_map = raster(maps / "jura_rock.tif") > 0
    want = np.where(known & on_map, copper, np.nan).astype(float)
    # Where rock was seen is known too, but counts nothing.
    f.cells("copper", 256 * (1 - run.layers["little copper"]), np.where(on_map, np.where(known, copper, np.nan).astype(float), np.nan), 2e-5, 1900)
    f.same("cells scored", int(np.isfinite(run.score).sum()), int(np.isfinite(want).sum()))
    scores = {"Argovian": 0.25, "Kimmeridgian": 0.5, "Sequanian": 0.75, "Portlandian": 1, "Quaternary": 0}
    seen = run.layers["rock as seen"]
    mapped = np.array([np.nan, 0.25, 0.5, 0.75, 1, 0])[raster(maps / "jura_rock.tif").astype(int)]
    both = np.isfinite(seen) & np.isfinite(mapped)
    # At the very places 307 of 359 agree, and no shift of the points betters it.
    f.that(both.sum() > 300 and (seen == mapped)[both].mean() > 0.8, f"rock as seen and as mapped agree on {(seen == mapped)[both].sum()} of {both.sum()} cells")
    f.that(set(np.unique(seen[np.isfinite(seen)])) <= set(scores.values()), "rock as seen has other scores")


def bei(run, maps, f):
    heights = raster(maps / "bei.tif")
    # gdaldem sums up in 32 bits, which shows on heights that are not whole.
    f.cells("slope", run.layers["steep"] * 45, np.minimum(terrain(heights, run, "slope"), 45), 5e-4, 99 * 199)
    f.cells("relative position", run.layers["position"] * 16 - 8, above_others(heights, np.ones((3, 3))), 2e-6, heights.size)
    f.cells("relative position within 50 m", run.layers["wide position"] * 64 - 32, above_others(heights, disc(10)), 1e-5, heights.size)
    # FAO-56 equation 21 for level ground at 9.15 degrees north: 36.6 MJ/m².
    level = run.layers["sunny"][run.layers["steep"] * 45 < 1] * 64
    f.that(np.abs(level - level_sun(9.15, 172)).max() < 0.4, f"level ground gets from {level.min():.2f} to {level.max():.2f} MJ/m²")
    with open(maps / "bei_trees.csv") as file:
        at = [(int((502.5 - float(p["y"])) / 5), int((float(p["x"]) + 2.5) / 5)) for p in csv.DictReader(file)]
    trees = np.array([run.layers["steep"][a] for a in at])
    ground = run.layers["steep"]
    f.that(np.nanmean(trees) > 1.1 * np.nanmean(ground), f"trees stand on slopes of {45 * np.nanmean(trees):.2f} degrees, the ground has {45 * np.nanmean(ground):.2f}")


def above_others(heights, ring):
    """Height above the mean of the other cells of a ring, on the map."""
    ring = ring.copy()
    ring[ring.shape[0] // 2, ring.shape[1] // 2] = 0
    total = lambda a: ndimage.convolve(a, ring, mode="constant")
    return heights - total(heights) / total(np.ones_like(heights))


def level_sun(latitude, day):
    """FAO-56 equation 21 (Allen and others 1998)."""
    phi, j = np.radians(latitude), 2 * np.pi * day / 365
    dec = 0.409 * np.sin(j - 1.39)
    sunset = np.arccos(-np.tan(phi) * np.tan(dec))
    return 24 * 60 / np.pi * 0.0820 * (1 + 0.033 * np.cos(j)) * (sunset * np.sin(phi) * np.sin(dec) + np.cos(phi) * np.cos(dec) * np.sin(sunset))


def clmfires(run, maps, f):
    cover = raster(maps / "clm_land_use.tif").astype(int)
    with open(maps / "clm_land_use.csv") as file:
        names = {int(row["code"]): row["name"] for row in csv.DictReader(file)}
    f.same("cells by land use", run.classes("cover"), {names[c]: int((cover == c).sum()) for c in np.unique(cover) if c})
    cause = covered(maps / "clm_fires.gpkg", run, 3000, "cause", "burnt >= 1")
    f.that((cause == "lightning").sum() > 100, "no lightning to speak of")
    away = np.minimum(distance(cause == "lightning", run.dx), 60000)
    f.cells("distance to lightning", run.layers["away from fire"] * 60000, away, 0.1, 5000)
    heights = raster(maps / "clm_elevation.tif")
    f.cells("height", run.layers["high"] * 4096, np.where(heights == -9999, np.nan, heights), 1e-3, 4900)


def sporophores(run, maps, f):
    kind = covered(maps / "sporophores.gpkg", run, 4, "kind")
    f.same("cells by kind", run.classes("fungi"), {**{k: int((kind == k).sum()) for k in ("L laccata", "L pubescens", "Hebloma spp")}, "none": int(np.equal(kind, None).sum())})
    about = share(kind == "L laccata", np.ones(kind.shape, bool), 6)
    inner = (slice(6, -6), slice(6, -6))  # beyond the rim ground without fungi goes on
    f.cells("Laccaria about", run.layers["Laccaria"][inner], np.minimum(about / 0.25, 1)[inner], 1e-6, 2000)
    f.cells("off Hebeloma", run.layers["off Hebeloma"] * 100, np.minimum(distance(kind == "Hebloma spp", 5), 100), 1e-4, 3600)


def bering(run, maps, f):
    rows, cols = run.score.shape
    box = ogr.CreateGeometryFromWkt("POLYGON (({0} {1}, {2} {1}, {2} {3}, {0} {3}, {0} {1}))".format(
        run.west, run.north - rows * run.dy, run.west + cols * run.dx, run.north))
    to_grid = osr.CoordinateTransformation(convert.reference("EPSG:4326"), run.crs)
    scores = {"Russian Federation": 1, "United States": 0.25, "Canada": 0}
    source = ogr.Open(str(maps / "world.gpkg"))
    for feature in source.GetLayer():
        if feature["name_long"] in scores:
            shape = feature.GetGeometryRef().Clone()
            shape.Segmentize(0.1)
            shape.Transform(to_grid)
            want = shape.Buffer(0).Intersection(box).GetArea() / (run.dx * run.dy)
            got = (run.layers["land"] == scores[feature["name_long"]]).sum()
            f.near(f"cells of {feature['name_long']}", got, want, 0.002 * want + 20)
    f.same("countries", sorted(run.classes("country")), sorted(scores))
    west, _, east, _ = run.hotspots["features"][0]["bbox"]
    f.that(west > 0 > east, f"the first area's bbox runs from {west} to {east}, not across 180 degrees (RFC 7946, section 5.2)")
    for area in run.hotspots["features"]:
        for part in area["geometry"]["coordinates"]:
            x = np.array(part[0])[:, 0]
            f.that((x >= 0).all() or (x <= 0).all(), f"area {area['properties']['rank']} is not cut at 180 degrees (RFC 7946, section 3.1.9)")


def puerto_rico(run, maps, f):
    cover = raster(maps / "lc.tif")
    f.same("cells by class", run.classes("cover"),
           {"water": 252, "built": 159, "bare": 3, "forest": 456, "shrub": 37, "grass": 270, "pasture": 24, "crops": 24, "wetland": 24})
    f.same("cells kept out", run.account["cells"]["kept_out"], 252 + 159)
    f.same("the grid's CRS, which the file describes without its code", run.account["grid"]["crs"], "EPSG:5070")
    f.cells("woods", run.layers["woods"], share((cover == 42) | (cover == 52), cover > 0, 2), 1e-6, 1249)
    f.cells("inland", run.layers["inland"], np.minimum(distance(cover == 11, 3000) / 30000, 1), 1e-6, 1249)


def oxford(run, maps, f):
    for layer, file, back in (("limy", "ph", lambda s: 4 + 4 * s), ("light", "clay", lambda s: 64 - 64 * s),
                              ("high", "height", lambda s: 512 + 128 * s)):
        f.cells(file, back(run.layers[layer]), warped(maps / f"oxford_{file}.tif", run), 1e-4, 60 * 210)
    soil = run.map("ph")  # augered were 4.2 to 7.7; between the holes it is less
    f.that(4.2 <= soil["lowest"] < 4.3 and 7.6 < soil["highest"] <= 7.7, f"pH from {soil['lowest']} to {soil['highest']}")
