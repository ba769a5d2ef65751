"""Makes the spoilt maps of the scripts out of the sound ones, by GDAL.

spoil.py WHAT FROM TO
"""
import sys
import numpy
from osgeo import gdal, ogr, osr

gdal.UseExceptions()
what, source, target = sys.argv[1:]


def rewrite(change_values=None, **change):
    old = gdal.Open(source)
    values = old.GetRasterBand(1).ReadAsArray()
    if change_values:
        values = change_values(values)
    bands = change.get("bands", 1)
    kind = change.get("type", old.GetRasterBand(1).DataType)
    new = gdal.GetDriverByName("GTiff").Create(target, old.RasterXSize, old.RasterYSize, bands, kind)
    new.SetGeoTransform(change.get("affine", old.GetGeoTransform()))
    if "wkt" in change:
        if change["wkt"]:
            new.SetProjection(change["wkt"])
    else:
        new.SetProjection(old.GetProjection())
    nodata = change.get("nodata", old.GetRasterBand(1).GetNoDataValue())
    for b in range(bands):
        if nodata is not None:
            new.GetRasterBand(b + 1).SetNoDataValue(nodata)
        new.GetRasterBand(b + 1).WriteArray(values)
    new.FlushCache()


def with_patch(value):
    def change(values):
        values = values.copy()
        values[40:50, 60:70] = value
        return values
    return change


def wkt(code):
    s = osr.SpatialReference()
    s.ImportFromEPSG(code)
    return s.ExportToWkt()


def affine():
    return gdal.Open(source).GetGeoTransform()


if what == "no-crs":
    rewrite(wkt="")
elif what == "rotated":
    a = affine()
    rewrite(affine=(a[0], a[1] * 0.8, a[2] + 3, a[3], 3, a[5] * 0.8))
elif what == "degrees":
    rewrite(wkt=wkt(4326), affine=(2.6, 0.0001, 0, 55.31, 0, -0.0001))
elif what == "elsewhere":
    a = affine()
    rewrite(affine=(a[0] + 300000, a[1], a[2], a[3] - 50000, a[4], a[5]))
elif what == "two-bands":
    rewrite(bands=2)
elif what == "sentinel":
    rewrite(with_patch(-9999), nodata=None)
elif what == "apart":
    def corner(values):
        values = values.copy()
        values[:3, :3] = 9999
        return values
    rewrite(corner)
elif what == "too-high":
    rewrite(with_patch(9500))
elif what == "unknown-code":
    rewrite(with_patch(77) if "cover" not in source else lambda v: numpy.where(v == 107, 77, v))
elif what == "empty":
    old = gdal.Open(source)
    nothing = old.GetRasterBand(1).GetNoDataValue()
    rewrite(lambda v: v * 0 + nothing)
elif what == "too-acid":
    rewrite(lambda v: numpy.where(numpy.arange(v.size).reshape(v.shape) % 40 == 7, 130, v))
elif what == "web-map":
    rewrite(wkt=wkt(3857))
elif what == "several":
    def change(values):
        values = values.astype("f4")
        for i, odd in enumerate((-9999, -32768, -2000, -1234.5)):
            values[40:50, 10 + 20 * i:20 + 20 * i] = odd
        return values
    rewrite(change, nodata=None)
elif what == "signed":  # codes less 150, as signed bytes; -128 where there is nothing
    old = gdal.Open(source)
    values = old.GetRasterBand(1).ReadAsArray().astype(int)
    values = numpy.where(values == old.GetRasterBand(1).GetNoDataValue(), -128, values - 150)
    values[40:50, 60:70] = -128
    new = gdal.GetDriverByName("GTiff").Create(target, old.RasterXSize, old.RasterYSize, 1, gdal.GDT_Byte, ["PIXELTYPE=SIGNEDBYTE"])
    new.SetGeoTransform(old.GetGeoTransform())
    new.SetProjection(old.GetProjection())
    new.GetRasterBand(1).SetNoDataValue(-128)
    new.GetRasterBand(1).WriteRaster(0, 0, old.RasterXSize, old.RasterYSize, values.astype("i1").tobytes())
    new.FlushCache()
elif what == "odd-nodata":
    rewrite(type=gdal.GDT_Byte, nodata=-9999)
elif what == "masked" or what == "alpha":
    gdal.SetConfigOption("GDAL_TIFF_INTERNAL_MASK", "YES")
    old = gdal.Open(source)
    hidden = numpy.full((old.RasterYSize, old.RasterXSize), 255, "u1")
    hidden[40:50, 60:70] = 0
    hidden[old.GetRasterBand(1).ReadAsArray() == old.GetRasterBand(1).GetNoDataValue()] = 0
    bands = 2 if what == "alpha" else 1
    new = gdal.GetDriverByName("GTiff").Create(target, old.RasterXSize, old.RasterYSize, bands, gdal.GDT_Float32, ["ALPHA=YES"] if what == "alpha" else [])
    new.SetGeoTransform(old.GetGeoTransform())
    new.SetProjection(old.GetProjection())
    new.GetRasterBand(1).WriteArray(with_patch(-9999)(old.GetRasterBand(1).ReadAsArray()))
    if what == "alpha":
        new.GetRasterBand(2).SetColorInterpretation(gdal.GCI_AlphaBand)
        new.GetRasterBand(2).WriteArray(hidden)
    else:
        new.CreateMaskBand(gdal.GMF_PER_DATASET)
        new.GetRasterBand(1).GetMaskBand().WriteArray(hidden)
    new.FlushCache()
elif what in ("left", "right"):  # parts of a map, five columns apart
    old = gdal.Open(source)
    start, end = (0, 100) if what == "left" else (105, old.RasterXSize)
    gdal.Translate(target, old, srcWin=[start, 0, end - start, old.RasterYSize])
elif what == "swapped":
    gdal.Warp("/vsimem/degrees.tif", source, dstSRS="EPSG:4326")
    old = gdal.Open("/vsimem/degrees.tif")
    a = old.GetGeoTransform()
    new = gdal.GetDriverByName("GTiff").Create(target, old.RasterYSize, old.RasterXSize, 1, gdal.GDT_Float32)
    new.SetGeoTransform((a[3] + old.RasterYSize * a[5], -a[5], 0, a[0] + old.RasterXSize * a[1], 0, -a[1]))
    new.SetProjection(old.GetProjection())
    new.GetRasterBand(1).WriteArray(old.GetRasterBand(1).ReadAsArray().T[::-1, ::-1].astype("f4"))
    new.FlushCache()
elif what == "no-polygons":
    file = ogr.Open(source)
    old = file.GetLayer(0)
    new = ogr.GetDriverByName("GPKG").CreateDataSource(target)
    layer = new.CreateLayer(old.GetName(), old.GetSpatialRef(), ogr.wkbPolygon)
    layer.CreateField(ogr.FieldDefn("rock"))
else:
    sys.exit("no spoiling called " + what)
