"""Asks that two rasters of scores are alike: at most a step of 1/16384 apart.

    near.py ONE OTHER
"""
import sys

import numpy as np
from osgeo import gdal

gdal.UseExceptions()
one, other = (gdal.Open(p).ReadAsArray().astype(float) for p in sys.argv[1:])
both = ~np.isnan(one) & ~np.isnan(other)
apart = np.abs(one - other)[both] * 16384
print(f"{both.sum()} cells, {int((apart > 0).sum())} a step apart, at most {apart.max()}; from {one[both].min()} to {one[both].max()}")
sys.exit(0 if (np.isnan(one) == np.isnan(other)).all() and both.sum() > 10000 and apart.max() <= 1 and one[both].std() > 0.01 else 1)
