"""Draws the maps of a mixed plan: six maps in five coordinate reference systems.

    mixed_draw.py FOLDER

The ground is open sea at 50 N, 8 W, so nothing here is of a real place. The
codings follow open maps as they are downloaded: soil in Homolosine as pH × 10
with -32768 where nothing is known and nothing that says so; land cover in
geographic tiles of bytes, each with a nodata of its own; a signed-byte raster
in EPSG:3035; two geologies of free text; heights in tiles whose cells are
wider north of 50 N than south of it, their centres on the degree.
"""
import os
import sys

import numpy as np
from osgeo import gdal, ogr, osr

gdal.UseExceptions()
ogr.UseExceptions()
folder = sys.argv[1]
LON, LAT = -8.0, 50.0
random = np.random.default_rng(20261125)


def system(text):
    s = osr.SpatialReference()
    s.SetFromUserInput(text)
    s.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    return s


def middle(text):
    """The middle of the ground in a system, for placing a map only."""
    return osr.CoordinateTransformation(system("EPSG:4326"), system(text)).TransformPoint(LON, LAT)[:2]


def raster(name, data, crs, x, y, dx, dy, kind, nodata=None, options=()):
    path = f"{folder}/{name}"
    os.makedirs(os.path.dirname(path), exist_ok=True)
    rows, cols = data.shape
    out = gdal.GetDriverByName("GTiff").Create(path, cols, rows, 1, kind, options=list(options))
    out.SetGeoTransform((x, dx, 0, y, 0, -dy))
    out.SetSpatialRef(system(crs))
    if nodata is not None:
        out.GetRasterBand(1).SetNoDataValue(nodata)
    out.GetRasterBand(1).WriteRaster(0, 0, cols, rows, np.ascontiguousarray(data).tobytes())


def patchy(rows, cols, side, codes):
    """Classes in ragged patches a few cells wide."""
    small = random.choice(codes, (rows // side + 2, cols // side + 2))
    y, x = np.mgrid[0:rows, 0:cols]
    y = np.clip((y + random.integers(0, side, (rows, cols)) // 2) // side, 0, small.shape[0] - 1)
    x = np.clip((x + random.integers(0, side, (rows, cols)) // 2) // side, 0, small.shape[1] - 1)
    return small[y, x]


def soil():
    x, y = middle("ESRI:54052")
    n, cell = 40, 250.0
    data = random.integers(36, 84, (n, n)).astype(np.int16)
    data[random.random((n, n)) < 0.08] = -32768
    # Not on round numbers, as after a crop.
    raster("soil.tif", data, "ESRI:54052", np.floor(x) - n / 2 * cell + 37, np.floor(y) + n / 2 * cell + 11, cell, cell, gdal.GDT_Int16)


def cover():
    side = 1 / 4000
    west = patchy(280, 246, 5, [10, 20, 30, 40, 60, 80, 255]).astype(np.uint8)
    east = patchy(280, 126, 5, [0, 10, 20, 30, 40, 60, 80]).astype(np.uint8)
    west[random.random(west.shape) < 0.03] = 0
    east[random.random(east.shape) < 0.03] = 255
    top, seam = LAT + 140 * side, LON
    # They overlap by six columns, in which they differ.
    raster("cover_west.tif", west, "EPSG:4326", seam - 240 * side, top, side, side, gdal.GDT_Byte, 0)
    raster("cover_east.tif", east, "EPSG:4326", seam, top, side, side, gdal.GDT_Byte, 255)


def habitat():
    x, y = middle("EPSG:3035")
    n, cell = 650, 11.3
    data = patchy(n, n, 7, [-100, -5, 1, 12, 23, 27, 127]).astype(np.int8)
    data[random.random((n, n)) < 0.05] = -128
    raster("habitat.tif", data, "EPSG:3035", np.floor(x) - n / 2 * cell, np.floor(y) + n / 2 * cell, cell, cell, gdal.GDT_Byte, -128,
           ["PIXELTYPE=SIGNEDBYTE", "COMPRESS=DEFLATE", "TILED=YES"])


def heights():
    for name, across, start, end in (("dem/tile_N49.tif", 1.0, -130, 0), ("dem/tile_N50.tif", 1.5, 0, 130)):
        cols, rows, dx, dy = int(225 / across), end - start, across / 3600, 1 / 3600
        x0, top = LON - 160 / 3600 - dx / 2, LAT + end / 3600 + dy / 2
        lon = x0 + (np.arange(cols) + 0.5) * dx
        lat = top - (np.arange(rows) + 0.5) * dy
        z = 220 + 90 * np.sin((lon[None, :] - LON) * 400) * np.cos((lat[:, None] - LAT) * 620) + 6 * np.sin((lon[None, :] + lat[:, None]) * 9000)
        z += random.random(z.shape)
        raster(name, z.astype(np.float32), "EPSG:4326", x0, top, dx, dy, gdal.GDT_Float32)


def polygons(name, driver, crs, field, texts, side, n, blobs):
    """Crooked fields that meet along their sides; later ones on top of them."""
    x, y = middle(crs)
    store = ogr.GetDriverByName(driver).CreateDataSource(f"{folder}/{name}")
    layer = store.CreateLayer("geology", system(crs), ogr.wkbPolygon)
    layer.CreateField(ogr.FieldDefn(field, ogr.OFTString))

    def put(ring, text):
        f = ogr.Feature(layer.GetLayerDefn())
        if text is not None:
            f.SetField(field, text)
        f.SetGeometry(ogr.CreateGeometryFromWkt("POLYGON((" + ",".join(f"{a!r} {b!r}" for a, b in ring + ring[:1]) + "))"))
        layer.CreateFeature(f)

    step_x, step_y = side
    knots = [[(x + (i - n / 2 + random.uniform(-0.35, 0.35)) * step_x, y + (j - n / 2 + random.uniform(-0.35, 0.35)) * step_y)
              for i in range(n + 1)] for j in range(n + 1)]
    for j in range(n):
        for i in range(n):
            if random.random() < 0.06:
                continue  # no polygon at all
            text = texts[random.integers(len(texts))]
            put([knots[j][i], knots[j][i + 1], knots[j + 1][i + 1], knots[j + 1][i]], text)
    for b in range(blobs):
        cx, cy = x + random.uniform(-n / 2, n / 2) * step_x, y + random.uniform(-n / 2, n / 2) * step_y
        turns = np.linspace(0, 2 * np.pi, 17)[:-1]
        reach = random.uniform(0.3, 0.9, 16)
        put([(cx + r * step_x * np.cos(t), cy + r * step_y * np.sin(t)) for t, r in zip(turns, reach)],
            texts[random.integers(len(texts))] if b % 6 else (None if b % 12 else ""))


soil()
cover()
habitat()
heights()
polygons("bedrock.gpkg", "GPKG", "EPSG:27700", "rcs_d", ["MUDSTONE, SILTSTONE AND SANDSTONE", "SANDSTONE", "LIMESTONE", "GRANITE"], (640.0, 640.0), 11, 30)
polygons("drift.geojson", "GeoJSON", "EPSG:4326", "Material", ["till", "Blown sand", "peat", "alluvium – silt"], (0.0081, 0.0052), 12, 30)
