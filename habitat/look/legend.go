package look

import (
	"os"
	"path/filepath"
	"strings"

	"likelyground/habitat/plan"
)

// mostLegend is the size in bytes up to which a table is taken for a legend.
const mostLegend = 1 << 20

// legendBeside finds the legend of a raster that lies beside it under its
// name, with or without the word legend, as a table of code,name.
func legendBeside(path string) (file string, names map[int32]string) {
	stem := strings.TrimSuffix(path, filepath.Ext(path))
	for _, end := range []string{"_legend.csv", "-legend.csv", ".legend.csv", ".csv"} {
		info, err := os.Stat(stem + end)
		if err != nil || !info.Mode().IsRegular() || info.Size() > mostLegend {
			continue
		}
		data, err := os.ReadFile(stem + end)
		if err != nil {
			continue
		}
		legend, err := plan.ReadLegend(stem+end, data)
		if err != nil || len(legend) == 0 {
			continue
		}
		names = map[int32]string{}
		for _, e := range legend {
			names[e.Code] = e.Name
		}
		return stem + end, names
	}
	return "", nil
}
