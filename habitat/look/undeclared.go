package look

import "likelyground/raster/maps"

// Undeclared returns the numbers of a raster of amounts that look like a sign
// for no data and that the file does not declare: well-known ones, and up to
// four at either end that stand far apart from the others. Numbers are the
// file's own, before scale, rising. band counts from 1; 0 is the first that is
// no alpha band. It looks at a sample, as [File] does, and answers with its
// errors.
func Undeclared(file string, band int) ([]float64, error) {
	in, err := maps.Inspect(file)
	if err != nil {
		return nil, err
	}
	var out []float64
	for i := range in.Bands {
		b := &in.Bands[i]
		if b.Number != band && (band != 0 || b.Alpha) {
			continue
		}
		for _, s := range standIns(steps(b.Sample.Known), b, false) {
			out = append(out, s.x)
		}
		break
	}
	return out, nil
}
