package habitat

import (
	"fmt"
	"strings"

	"likelyground/habitat/licence"
	"likelyground/habitat/plan"
)

// together sums up what the maps that bear on the outputs ask of who passes
// those on, as the plan states it.
func (d *desk) together() (licence.Together, error) {
	weights, _, err := weigh(d.plan)
	if err != nil {
		return licence.Together{}, err
	}
	bears := bearing(d.plan, weights)
	var maps []licence.Map
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		if s := d.sources[m.Name]; bears[m.Name] && s != nil && s.blank == "" {
			maps = append(maps, licence.Map{Name: m.Name, Licence: m.Licence, Share: licence.Share(m.Share)})
		}
	}
	return licence.Sum(maps), nil
}

// bearing returns the layers that can be seen in some output: what factors
// with weight read, or any factor where they are written, what keeps ground
// out, the map that the grid is like, and what those are worked out from.
func bearing(p *plan.Plan, weights []float64) map[string]bool {
	out := map[string]bool{p.Grid.Like: true}
	for i := range p.Factors {
		if f := &p.Factors[i]; weights[i] > 0 || f.Must || p.Outputs.Factors {
			addLayers(f, out)
		}
	}
	for _, k := range p.KeepOut {
		out[k.Layer] = true
	}
	for i := len(p.Derived) - 1; i >= 0; i-- { // each stands after the layers it reads
		if d := &p.Derived[i]; out[d.Name] {
			for _, name := range d.Reads() {
				out[name] = true
			}
		}
	}
	return out
}

func addLayers(f *plan.Factor, to map[string]bool) {
	if f.From != "" {
		to[f.From] = true
	}
	for i := range f.Members {
		addLayers(&f.Members[i], to)
	}
}

// conflicts are the duties that cannot be met together, as warnings.
func (d *desk) conflicts() []string {
	t, err := d.together()
	if err != nil {
		return nil // whoever weighs the factors tells
	}
	out := make([]string, len(t.Conflicts))
	for i, c := range t.Conflicts {
		out[i] = "outputs cannot be passed on under the licences that the plan states: " + c
	}
	return out
}

// credits returns the credit lines of the maps, each with its map's name.
func (d *desk) credits() []string {
	out := []string{}
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		var parts []string
		for _, x := range []string{m.Credit, m.Licence} {
			if x != "" {
				parts = append(parts, x)
			}
		}
		if len(parts) == 0 {
			continue
		}
		if year := yearWords(m.Year); year != "" {
			parts = append(parts, year)
		}
		out = append(out, m.Name+": "+strings.Join(parts, "; "))
	}
	return out
}

// yearWords says what the year of a map means for its reader; "" where none
// is given.
func yearWords(year int) string {
	if year == 0 {
		return ""
	}
	return fmt.Sprintf("shows %d: what changed since is not seen", year)
}

// licenceWords says whom to credit and whether outputs may be passed on.
func (r *Report) licenceWords() string {
	out := ""
	if len(r.Credits) > 0 {
		out += "Credits:\n"
	}
	for _, c := range r.Credits {
		out += "  " + c + "\n"
	}
	t := r.Licences
	out += t.Words() + "\n"
	switch {
	case t.Of == "":
	case t.Strictest == "":
		out += fmt.Sprintf("The strictest licence is not stated: that of %s.\n", t.Of)
	default:
		out += fmt.Sprintf("The strictest licence is %s, of %s.\n", t.Strictest, t.Of)
	}
	return out
}
