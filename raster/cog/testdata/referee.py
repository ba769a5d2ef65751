"""Reads GeoTIFFs with GDAL and says what it found; the tests of package cog
run it. Standard input: a JSON list of {path, dump, overview}; standard
output: a JSON list with an account of each. Overviews are made again with
numpy from the full resolution and compared, cell by cell."""

import json
import os
import sys

import numpy as np
from osgeo import gdal, osr
from osgeo_utils.samples import validate_cloud_optimized_geotiff as validator

gdal.UseExceptions()


def known_of(a, nodata):
    if nodata is None:
        return np.ones(a.shape, bool)
    return ~np.isnan(a) if np.isnan(nodata) else a != nodata


def quads(a, fill):
    """The four cells of each overview cell, those beyond the edge filled."""
    rows, cols = (a.shape[0] + 1) // 2 * 2, (a.shape[1] + 1) // 2 * 2
    wide = np.full((rows, cols), fill, a.dtype)
    wide[: a.shape[0], : a.shape[1]] = a
    return [wide[i::2, j::2] for i in (0, 1) for j in (0, 1)]


def average(a, known, nodata):
    cells, there = quads(a.astype("f8"), 0), quads(known, False)
    total, n = np.zeros(cells[0].shape), np.zeros(cells[0].shape)
    for c, k in zip(cells, there):
        total = total + np.where(k, c, 0)
        n += k
    mean = total / np.maximum(n, 1)
    if a.dtype.kind in "iu":
        mean = np.sign(mean) * np.floor(np.abs(mean) + 0.5)
    out = mean.astype(a.dtype)
    return np.where(n > 0, out, np.array(nodata if nodata is not None else 0).astype(a.dtype)), n > 0


def nearest(a, known, nodata):
    return a[::2, ::2], known[::2, ::2]


def mode(a, known, nodata):
    cells, there = quads(a, 0), quads(known, False)
    best = np.full(cells[0].shape, nodata if nodata is not None else 0, a.dtype)
    most = np.zeros(cells[0].shape, int)
    for c, k in zip(cells, there):
        n = sum((np.equal(c, d) & e).astype(int) for d, e in zip(cells, there))
        better = k & ((n > most) | ((n == most) & (c < best)))
        best, most = np.where(better, c, best), np.where(better, n, most)
    return best, most > 0


def band_account(band, overview):
    nodata = band.GetNoDataValue()
    a = band.ReadAsArray()
    known = known_of(a, nodata)
    out = {
        "description": band.GetDescription(),
        "unit": band.GetUnitType(),
        "scale": band.GetScale(),
        "offset": band.GetOffset(),
        "nodata": None if nodata is None else repr(nodata),
        "metadata": band.GetMetadata(),
        "type": gdal.GetDataTypeName(band.DataType),
        "block": band.GetBlockSize(),
        "known": int(known.sum()),
        "overviews": [],
        "wrong": [],
    }
    if known.any():
        v = a[known].astype("f8")
        out["stats"] = [float(v.min()), float(v.max()), float(v.mean()), float(v.std())]
    for i in range(band.GetOverviewCount()):
        o = band.GetOverview(i)
        a, known = globals()[overview](a, known, nodata)
        out["overviews"].append([o.XSize, o.YSize])
        got = o.ReadAsArray()
        same = got.shape == a.shape and np.array_equal(got, a, equal_nan=a.dtype.kind == "f")
        out["wrong"].append(-1 if got.shape != a.shape else 0 if same else int((got != a).sum()))
        if repr(o.GetNoDataValue()) != repr(nodata):
            out["wrong"][-1] = -2
    return out


def leaders(ds, path):
    """What the validator asks of the blocks of band 1, for every band."""
    errors = []
    f = gdal.VSIFOpenL(path, "rb")
    for b in range(1, ds.RasterCount + 1):
        band = ds.GetRasterBand(b)
        for o in [band] + [band.GetOverview(i) for i in range(band.GetOverviewCount())]:
            validator.full_check_band(f, "band %d" % b, o, errors, True, True, True, False)
    gdal.VSIFCloseL(f)
    return errors


def account(path, dump, overview):
    warnings, errors, _ = validator.validate(path, full_check=True)
    ds = gdal.Open(path)
    if dump:
        with open(dump, "wb") as f:
            for b in range(ds.RasterCount):
                f.write(ds.GetRasterBand(b + 1).ReadAsArray().tobytes())
    srs = ds.GetSpatialRef()
    return {
        "warnings": warnings,
        "errors": errors + leaders(ds, path),
        "size": [ds.RasterXSize, ds.RasterYSize],
        "transform": ds.GetGeoTransform(),
        "crs": srs.GetAuthorityCode(None) if srs else "",
        "metadata": ds.GetMetadata(),
        "structure": ds.GetMetadata("IMAGE_STRUCTURE"),
        "files": [os.path.basename(n) for n in ds.GetFileList()],
        "bands": [band_account(ds.GetRasterBand(b + 1), overview) for b in range(ds.RasterCount)],
    }


json.dump([account(**job) for job in json.load(sys.stdin)], sys.stdout)
