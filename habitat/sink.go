package habitat

import (
	"errors"

	"likelyground/habitat/combine"
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/cog"
	"likelyground/raster/crs"
	"likelyground/raster/patch"
	"likelyground/raster/pipe"
)

// results gathers what the tiles of a run come to: the files being written
// and the patches being found. What the plan does not ask for is nil.
type results struct {
	plan     *plan.Plan
	combiner *combine.Combiner
	masked   bool // the tiles end with one of the area of interest

	score   *cog.Writer
	factors *cog.Writer
	picture *cog.Writer
	patches *patch.Store
	rule    patch.Rule
	areas   *crs.Areas
}

// outputs returns the nodes whose tiles the sinks take.
func outputs(g *graph) []*pipe.Node {
	out := append([]*pipe.Node{g.score}, g.factors...)
	if g.area != nil {
		out = append(out, g.area)
	}
	return out
}

// sink opens the sink of one worker.
func (r *results) sink() (pipe.Sink, error) {
	s := &sink{results: r}
	if r.score != nil {
		s.scoreOut = r.score.Encoder()
	}
	if r.picture != nil {
		s.pictureOut = r.picture.Encoder()
	}
	if r.factors != nil {
		s.factorsOut = r.factors.Encoder()
		s.scratch = r.combiner.Scratch()
	}
	if r.patches != nil {
		s.surveyor = patch.NewSurveyor(r.rule, r.areas.Reader())
	}
	return s, nil
}

// sink takes the tiles of one worker.
type sink struct {
	*results
	scoreOut, factorsOut, pictureOut *cog.Encoder
	surveyor                         *patch.Surveyor
	scratch                          *combine.Scratch
	values                           [][]float32
	band, spare                      []float32
}

func (s *sink) Close() error { return nil }

// Take has score, factors and, if masked, the area, in this order.
func (s *sink) Take(w raster.Window, in []raster.Tile) error {
	score, factors := in[0], in[1:]
	var area []int32
	if s.masked {
		area = factors[len(factors)-1].Codes
		factors = factors[:len(factors)-1]
	}
	var errs []error
	if s.scoreOut != nil {
		errs = append(errs, s.scoreOut.Put(0, score))
	}
	if s.pictureOut != nil {
		errs = append(errs, s.pictureOut.Put(0, score))
	}
	if s.surveyor != nil {
		errs = append(errs, s.survey(score, factors))
	}
	if s.factorsOut != nil {
		errs = append(errs, s.writeFactors(w, factors, area))
	}
	return errors.Join(errs...)
}

func (s *sink) survey(score raster.Tile, factors []raster.Tile) error {
	summary, err := s.surveyor.Survey(score, factors)
	if err != nil {
		return err
	}
	return s.patches.Put(summary)
}

// writeFactors writes a band a factor, then the coverage, inside the area.
func (s *sink) writeFactors(w raster.Window, factors []raster.Tile, area []int32) error {
	for i, f := range factors {
		if err := s.factorsOut.Put(i, s.inside(w, f.Values, area)); err != nil {
			return err
		}
	}
	s.band, s.spare = room(s.band, w.Size()), room(s.spare, w.Size())
	s.values = s.values[:0]
	for _, f := range factors {
		s.values = append(s.values, f.Values)
	}
	strips := make([][]float32, len(factors))
	for from := 0; from < w.Size(); from += stripCells {
		to := min(from+stripCells, w.Size())
		for i, v := range s.values {
			strips[i] = v[from:to]
		}
		s.scratch.Apply(s.spare[from:to], s.band[from:to], strips)
	}
	return s.factorsOut.Put(len(factors), s.inside(w, s.band, area))
}

// inside returns values with those outside the area blanked.
func (s *sink) inside(w raster.Window, values []float32, area []int32) raster.Tile {
	if area == nil {
		return raster.Tile{Window: w, Values: values}
	}
	s.spare = room(s.spare, len(values))
	for i, v := range values {
		if area[i] != 1 {
			v = raster.Missing
		}
		s.spare[i] = v
	}
	return raster.Tile{Window: w, Values: s.spare}
}

func room(b []float32, n int) []float32 {
	if cap(b) < n {
		return make([]float32, n)
	}
	return b[:n]
}

// close frees what the results hold.
func (r *results) close() {
	if r.score != nil {
		r.score.Close()
	}
	if r.factors != nil {
		r.factors.Close()
	}
	if r.picture != nil {
		r.picture.Close()
	}
	if r.patches != nil {
		r.patches.Close()
	}
	if r.areas != nil {
		r.areas.Close()
	}
}
