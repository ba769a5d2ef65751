package habitat

import (
	"context"
	"fmt"
	"slices"
	"sort"

	"likelyground/habitat/licence"
	"likelyground/habitat/plan"
)

// Report is what a check found.
type Report struct {
	Plan     string     `json:"plan"`
	CRS      string     `json:"crs"`
	CRSName  string     `json:"crs_name"`
	CellX    float64    `json:"cell_x_m"`
	CellY    float64    `json:"cell_y_m"`
	Columns  int        `json:"columns"`
	Rows     int        `json:"rows"`
	Estimate Estimate   `json:"estimate"`
	Maps     []MapShare `json:"maps"`
	Ratio    *float64   `json:"consistency_ratio,omitempty"` // of a pairwise table
	Credits  []string   `json:"credits"`
	Warnings []string   `json:"warnings"`
	Kept     []string   `json:"of_earlier_runs"` // what a run would use again

	Licences licence.Together `json:"licences"`
}

// MapShare is a map and what hangs on it.
type MapShare struct {
	Name    string  `json:"name"`
	Share   float64 `json:"share_of_weight"` // of the weight that is unknown where this map is
	Read    string  `json:"read"`            // how it comes onto the grid
	LeftOut string  `json:"left_out,omitempty"`
}

// Check opens everything that a plan names and computes nothing: it returns
// the grid, what a run would need, and what hangs on each map. It looks at
// headers and at samples of the cells, so a run may still find what a check
// did not. Nothing is written beside the plan.
func Check(ctx context.Context, planFile string, o Options) (*Report, error) {
	return withScratch(ctx, o.settled(), func(o Options) (*Report, error) { return check(ctx, planFile, o) })
}

func check(ctx context.Context, planFile string, o Options) (*Report, error) {
	d, done, err := openDesk(ctx, planFile, o)
	defer done()
	if err != nil {
		return nil, err
	}
	o.Events(Event{Stage: "Looking at samples"})
	if err := d.sample(); err != nil {
		return nil, err
	}
	odd, err := d.undeclared()
	if err != nil {
		return nil, err
	}
	d.said = append(d.said, odd...)
	r, err := d.report(o)
	if err == nil {
		r.Kept = d.wouldReuse(ctx, o)
	}
	return r, err
}

func (d *desk) report(o Options) (*Report, error) {
	weights, ratio, err := weigh(d.plan)
	if err != nil {
		return nil, err
	}
	r := &Report{
		Plan: d.file, CRS: d.grid.name(), CRSName: d.grid.info.Name, CellX: d.grid.DXm(), CellY: d.grid.DYm(), Columns: d.grid.Cols, Rows: d.grid.Rows,
		Estimate: d.estimate(o.Memory, o.Threads), Ratio: ratio, Warnings: append([]string{}, d.warnings()...),
	}
	r.Credits = d.credits()
	if r.Licences, err = d.together(); err != nil {
		return nil, err
	}
	shares := mapShares(d.plan, weights)
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		s := d.sources[m.Name]
		share := MapShare{Name: m.Name, Share: shares[m.Name], LeftOut: s.blank}
		if s.blank == "" {
			share.Read = readWords(s.accountRead(d)[0])
		}
		r.Maps = append(r.Maps, share)
	}
	sort.SliceStable(r.Maps, func(i, j int) bool { return r.Maps[i].Share > r.Maps[j].Share })
	return r, nil
}

// mapShares returns, for each map, the share of the weight of the factors
// that cannot be known without it.
func mapShares(p *plan.Plan, weights []float64) map[string]float64 {
	from := map[string][]string{} // the maps that a layer needs, in order
	for _, m := range p.Maps {
		from[m.Name] = []string{m.Name}
	}
	for _, d := range p.Derived { // each after the layers it reads
		for i, name := range d.Reads() {
			if d.Verb == plan.FirstOf && i > 0 { // one of them will do
				from[d.Name] = slices.DeleteFunc(from[d.Name], func(m string) bool { return !slices.Contains(from[name], m) })
				continue
			}
			from[d.Name] = append(from[d.Name], from[name]...)
		}
		slices.Sort(from[d.Name])
		from[d.Name] = slices.Compact(from[d.Name])
	}
	sum := weightSum(p, weights)
	out := map[string]float64{}
	for i := range p.Factors {
		for _, name := range neededMaps(&p.Factors[i], from) {
			if sum > 0 {
				out[name] += weights[i] / sum
			}
		}
	}
	return out
}

// neededMaps returns the maps without any one of which nothing is known of a
// factor: those of its layer, or those that every member of a group needs.
func neededMaps(f *plan.Factor, from map[string][]string) []string {
	if f.From != "" {
		return from[f.From]
	}
	var out []string
	for i := range f.Members {
		needs := neededMaps(&f.Members[i], from)
		if i == 0 {
			out = slices.Clone(needs)
			continue
		}
		out = slices.DeleteFunc(out, func(name string) bool { return !slices.Contains(needs, name) })
	}
	return out
}

// Words returns the report as text.
func (r *Report) Words() string {
	e := r.Estimate
	out := fmt.Sprintf("%s can be run.\nGrid: %s, %d × %d cells of %g × %g m.\nA run takes %s, at most %s of memory and about %s of disk.\n",
		r.Plan, r.CRSName, r.Columns, r.Rows, r.CellX, r.CellY, about(e.Seconds), Bytes(e.Memory), Bytes(e.Disk))
	if r.Ratio != nil {
		out += fmt.Sprintf("Consistency ratio of the comparisons: %.3f.\n", *r.Ratio)
	}
	for _, k := range r.Kept {
		out += fmt.Sprintf("Of earlier runs: %s.\n", k)
	}
	out += "What hangs on each map:\n"
	for _, m := range r.Maps {
		how := m.Read
		if m.LeftOut != "" {
			how = "left out: " + m.LeftOut
		}
		out += fmt.Sprintf("  %3.0f %% of the weight  %s: %s\n", 100*m.Share, m.Name, how)
	}
	return out + r.licenceWords()
}

// about writes an estimated time.
func about(seconds float64) string {
	if seconds < 1 {
		return Duration(seconds)
	}
	return "about " + Duration(seconds)
}
