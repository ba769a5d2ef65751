"""Turns what the packages hold into maps: GeoTIFFs, legends, an outline.

    convert.py PACKAGES MAPS

Reads the unpacked packages below PACKAGES and writes into MAPS. Each data set
is held to figures known beforehand, so that another version of a package is
noticed here and not by an odd result. What is where, and how well it is
placed, stands in testdata/README.md.
"""
import csv
import pathlib
import shutil
import sys

import numpy as np
from osgeo import gdal, ogr, osr

import rdata

gdal.UseExceptions()
ogr.UseExceptions()

R = "usr/lib/R/site-library"


def expect(what, got, want):
    if got != want:
        sys.exit(f"convert: {what} is {got}, not {want}: the package holds other data than it did")


def reference(code):
    out = osr.SpatialReference()
    out.SetFromUserInput(code)
    out.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    return out


def write(path, cells, west, north, dx, dy, crs, nodata=None):
    """Writes rows of cells, the northern first, as a GeoTIFF."""
    kinds = {"u1": gdal.GDT_Byte, "i2": gdal.GDT_Int16, "f4": gdal.GDT_Float32}
    kind = kinds[cells.dtype.str[1:]]
    out = gdal.GetDriverByName("GTiff").Create(str(path), cells.shape[1], cells.shape[0], 1, kind)
    out.SetGeoTransform((west, dx, 0, north, 0, -dy))
    out.SetSpatialRef(reference(crs))
    band = out.GetRasterBand(1)
    if nodata is not None:
        band.SetNoDataValue(nodata)
    band.WriteArray(cells)


def legend(path, names):
    with open(path, "w", newline="") as f:
        out = csv.writer(f)
        out.writerow(["code", "name"])
        out.writerows(enumerate(names, 1))


def jacksboro(packages, maps):
    """The hills by Jacksboro, Tennessee, twice: where they are, and with
    square cells of 75 m as slope is known for."""
    data = np.load(packages / "usr/share/matplotlib/mpl-data/sample_data/jacksboro_fault_dem.npz")
    heights = data["elevation"]
    expect("jacksboro's shape and sum", (heights.shape, int(heights.sum(dtype=int))), ((344, 403), 73617913))
    west, north = float(data["xmin"]), float(max(data["ymin"], data["ymax"]))  # named the wrong way round
    step = float(data["dx"])
    expect("jacksboro's width", round(float(data["xmax"] - data["xmin"]) / step), 403)
    write(maps / "jacksboro.tif", heights, west, north, step, step, "EPSG:4326")
    write(maps / "jacksboro_75.tif", heights, 700000, 4060000, 75, 75, "EPSG:32616")


def volcano(packages, maps):
    """Maunga Whau. Rows of the matrix run along north from the south, the
    first of them in the east (help page of R's datasets)."""
    v = rdata.Database(str(packages / "usr/lib/R/library/datasets/data/Rdata"))["volcano"]
    expect("volcano's shape and sum", (list(v.attributes["dim"]), int(v.sum())), ([87, 61], 690907))
    cells = v.reshape(61, 87)[::-1, ::-1].astype("f4")  # by columns: northing, then easting
    write(maps / "volcano.tif", np.ascontiguousarray(cells), 1756400, 5917900, 10, 10, "EPSG:2193")


def jura(packages, maps):
    grid = rdata.load(packages / R / "gstat/data/jura.rda")["jura.grid"]
    expect("jura's cells", len(grid["Xloc"]), 5957)
    col = np.rint((grid["Xloc"] - 0.3) / 0.05).astype(int)
    row = np.rint((5.9 - grid["Yloc"]) / 0.05).astype(int)
    for column in ("Rock", "Landuse"):
        cells = np.zeros((117, 97), "u1")
        cells[row, col] = grid[column]
        expect(f"jura's cells with {column}", int((cells > 0).sum()), 5957)
        name = {"Rock": "jura_rock", "Landuse": "jura_land_use"}[column]
        write(maps / f"{name}.tif", cells, 553000 + 275, 218000 + 5925, 50, 50, "EPSG:21781", 0)
        legend(maps / f"{name}.csv", grid[column].attributes["levels"])


def oxford(packages, maps):
    """Augerings on a lattice of 100 m; where it lies is not published."""
    soil = rdata.load(packages / R / "gstat/data/oxford.rda")["oxford"]
    expect("oxford's augerings", len(soil["XCOORD"]), 126)
    col = np.rint(soil["XCOORD"] / 100).astype(int) - 1
    row = 21 - np.rint(soil["YCOORD"] / 100).astype(int)
    for column, name in (("PH1", "ph"), ("PCLAY1", "clay"), ("ELEV", "height")):
        cells = np.full((21, 6), np.nan, "f4")
        cells[row, col] = soil[column]
        expect(f"oxford's cells with {column}", int(np.isfinite(cells).sum()), 126)
        write(maps / f"oxford_{name}.tif", cells, 440000, 182100, 100, 100, "EPSG:27700", np.nan)


def gorillas(packages, maps):
    library = packages / R / "spatstat.data"
    data = rdata.Database(str(library / "data/Rdata"))
    expect("the gorillas' nests", int(data["gorillas"]["n"][0]), 647)
    for name, form in (("elevation", "i2"), ("waterdist", "f4")):
        image = data["gorillas.extra"][name]
        rows, cols = (int(n) for n in image["v"].attributes["dim"])
        cells = np.asarray(image["v"]).reshape(cols, rows).T[::-1]  # by columns, the southern row first
        known = np.isfinite(cells) & (cells != -(2**31))
        cells = np.where(known, cells, -9999).astype(form)
        write(maps / f"gorillas_{name}.tif", cells, image["xrange"][0], image["yrange"][1],
              image["xstep"][0], image["ystep"][0], "EPSG:32632", -9999)
    outline(maps / "gorillas_area.gpkg", data["gorillas"]["window"]["bdry"], "EPSG:32632")
    points(maps / "gorillas_nests.csv", data["gorillas"])
    shutil.copy(library / "rawdata/gorillas/vegetation.asc", maps)


def outline(path, rings, crs):
    """Writes the rings of a window of spatstat: polygons that are no holes."""
    store = ogr.GetDriverByName("GPKG").CreateDataSource(str(path))
    layer = store.CreateLayer("area", reference(crs), ogr.wkbPolygon)
    for corners in rings:
        ring = ogr.Geometry(ogr.wkbLinearRing)
        for x, y in zip(corners["x"], corners["y"]):
            ring.AddPoint_2D(float(x), float(y))
        ring.CloseRings()
        polygon = ogr.Geometry(ogr.wkbPolygon)
        polygon.AddGeometry(ring)
        feature = ogr.Feature(layer.GetLayerDefn())
        feature.SetGeometry(polygon)
        layer.CreateFeature(feature)


def points(path, pattern):
    with open(path, "w", newline="") as f:
        out = csv.writer(f)
        out.writerow(["x", "y"])
        out.writerows(zip(pattern["x"].tolist(), pattern["y"].tolist()))


def image(grid, form):
    """The cells of an image of spatstat, the northern row first."""
    rows, cols = (int(n) for n in grid["v"].attributes["dim"])
    cells = np.asarray(grid["v"]).reshape(cols, rows).T[::-1]  # by columns, the southern row first
    known = np.isfinite(cells) & (cells != -(2**31))
    return np.where(known, cells, 0 if form == "u1" else -9999).astype(form)


def records(path, crs, x, y, **fields):
    """Writes points with what was noted of them: texts or numbers."""
    store = ogr.GetDriverByName("GPKG").CreateDataSource(str(path))
    layer = store.CreateLayer("records", reference(crs), ogr.wkbPoint)
    for name, values in fields.items():
        layer.CreateField(ogr.FieldDefn(name, ogr.OFTString if isinstance(values[0], str) else ogr.OFTReal))
    layer.StartTransaction()
    for i in range(len(x)):
        feature = ogr.Feature(layer.GetLayerDefn())
        feature.SetGeometry(ogr.CreateGeometryFromWkt(f"POINT ({float(x[i])!r} {float(y[i])!r})"))
        for name, values in fields.items():
            feature[name] = values[i] if isinstance(values[i], str) else float(values[i])
        layer.CreateFeature(feature)
    layer.CommitTransaction()


def named(factor):
    levels = factor.attributes["levels"]
    return [levels[code - 1] for code in factor.tolist()]


def jura_soil(packages, maps):
    """Where soil was taken: the places to learn from and those to judge by."""
    data = rdata.load(packages / R / "gstat/data/jura.rda")
    sets = [data["jura.pred"], data["jura.val"]]
    both = lambda column: np.concatenate([np.asarray(s[column]) for s in sets])
    expect("jura's soils", len(both("Xloc")), 359)
    records(maps / "jura_soil.gpkg", "EPSG:21781", 553000 + 1000 * both("Xloc"), 218000 + 1000 * both("Yloc"),
            copper=both("Cu"), rock=[name for s in sets for name in named(s["Rock"])])


def bei(packages, maps):
    """Trees and heights of 50 ha on Barro Colorado Island."""
    data = rdata.Database(str(packages / R / "spatstat.data/data/Rdata"))
    expect("bei's trees", int(data["bei"]["n"][0]), 3604)
    write(maps / "bei.tif", image(data["bei.extra"]["elev"], "f4"), 625750 - 2.5, 1011500 + 502.5, 5, 5, "EPSG:32617", -9999)
    points(maps / "bei_trees.csv", data["bei"])


def clmfires(packages, maps):
    """Fires, land use and heights of Castilla-La Mancha, in kilometres."""
    data = rdata.Database(str(packages / R / "spatstat.data/data/Rdata"))
    fires, grids = data["clmfires"], data["clmfires.extra"]["clmcov100"]
    expect("the fires", int(fires["n"][0]), 8488)
    west, north = 292000 - 2125.0001, 4190000 + 397875.02349
    for name, column, form, nodata in (("land_use", "landuse", "u1", 0), ("elevation", "elevation", "i2", -9999)):
        write(maps / f"clm_{name}.tif", image(grids[column], form), west, north, 4000.0002359, 4000.0002359, "EPSG:25830", nodata)
    legend(maps / "clm_land_use.csv", grids["landuse"]["v"].attributes["levels"])
    records(maps / "clm_fires.gpkg", "EPSG:25830", 292000 + 1000 * np.asarray(fires["x"]), 4190000 + 1000 * np.asarray(fires["y"]),
            cause=named(fires["marks"]["cause"]), burnt=np.asarray(fires["marks"]["burnt.area"]))


def sporophores(packages, maps):
    """Fungi round a birch, a centimetre as a metre."""
    fungi = rdata.Database(str(packages / R / "spatstat.data/data/Rdata"))["sporophores"]
    expect("the fungi", int(fungi["n"][0]), 330)
    records(maps / "sporophores.gpkg", "EPSG:27700", 450000 + np.asarray(fungi["x"]), 200000 + np.asarray(fungi["y"]), kind=named(fungi["marks"]))


def as_they_are(packages, maps):
    """What is a map already."""
    for pattern in ("stars/tif/olinda_dem_utm25s.tif", "stars/tif/L7_ETMs.tif", "stars/tif/lc.tif",
                    "terra/ex/elev.tif", "terra/ex/lux.*", "spData/shapes/world.gpkg"):
        found = sorted((packages / R).glob(pattern))
        if not found:
            sys.exit(f"convert: no {pattern} in the package")
        for file in found:
            shutil.copy(file, maps)


def main():
    packages, maps = (pathlib.Path(p) for p in sys.argv[1:])
    for step in (jacksboro, volcano, jura, jura_soil, oxford, gorillas, bei, clmfires, sporophores, as_they_are):
        step(packages, maps)


if __name__ == "__main__":
    main()
