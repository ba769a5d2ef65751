package crs

import (
	"fmt"
	"strings"
)

// Operation is a transformation between two CRSs. It is plain data: any number
// of goroutines may open it.
type Operation struct {
	From, To   string  // the CRSs as they were given
	Name       string  // what the registry calls it
	Accuracy   float64 // metres; 0 exact, -1 unknown
	Ballpark   bool    // without datum shift: may be off by hundreds of metres
	Identity   bool    // the CRSs are the same; nothing is computed
	Outside    bool    // the area lies outside the ground the operation is meant for
	Definition string  // PROJ pipeline, x east and y north on both sides
	Better     string  // a more accurate operation that lacks a grid file, and the file; "" for none
}

// Options says what [Choose] may take. The zero value is the sensible one.
type Options struct {
	AllowBallpark bool    // take an operation without datum shift where there is no other
	MaxError      float64 // metres; 0 takes the best there is, unknown accuracy included
}

// Choose returns the transformation that PROJ finds best for an area, using
// the grid files at hand. Where the CRSs are the same it is the identity.
// The zero area stands for the whole earth.
//
// It answers with a [Refusal] when only a ballpark operation exists and
// o.AllowBallpark is not set, when none is as accurate as o.MaxError, and when
// either text is no CRS.
func Choose(from, to string, area Box, o Options) (Operation, error) {
	s, err := newSession()
	if err != nil {
		return Operation{}, err
	}
	defer s.close()
	a, err := s.horizontal(from)
	if err != nil {
		return Operation{}, err
	}
	b, err := s.horizontal(to)
	if err != nil {
		return Operation{}, err
	}
	if a.same(b) {
		return Operation{From: from, To: to, Name: "none: the same CRS", Identity: true, Definition: "+proj=noop"}, nil
	}
	c := choice{s: s, from: a.registered(), to: b.registered(), fromText: from, area: area, options: o}
	out, err := c.best()
	if err != nil {
		return Operation{}, err
	}
	out.From, out.To = from, to
	return out, nil
}

// choice is one question put to the registry.
type choice struct {
	s        *session
	from, to object
	fromText string
	area     Box
	options  Options
}

func (c choice) best() (Operation, error) {
	for _, q := range c.searches() {
		ops, err := c.s.operations(c.from, c.to, q)
		if err != nil {
			return Operation{}, err
		}
		out, ok := c.first(ops, q)
		if !ok {
			continue
		}
		if out.Ballpark && !c.options.AllowBallpark {
			return Operation{}, c.refuseBallpark()
		}
		return c.accept(out)
	}
	return Operation{}, refuse("use a map in another CRS, or convert it first",
		"there is no transformation from %s to %s", c.from.label(), c.to.label())
}

// first returns the first operation that serves the whole area: one with a
// grid file that ends within the area gives way to one that does not. Failing
// that, it is the first that can be carried out.
func (c choice) first(ops []object, q search) (Operation, bool) {
	var fallback Operation
	found := false
	for _, op := range ops {
		out, ok := c.usable(op, q)
		if !ok {
			continue
		}
		if !op.gridded() || c.area == (Box{}) || c.serves(out) {
			return out, true
		}
		if !found {
			fallback, found = out, true
		}
	}
	return fallback, found
}

// serves reports whether an operation works at places all over the area.
func (c choice) serves(o Operation) bool {
	g, err := openGround(c.fromText)
	if err != nil {
		return false
	}
	defer g.close()
	east := c.area.East
	if east < c.area.West {
		east += 360
	}
	x, y := filling(c.area.West, c.area.South, east, c.area.North)
	g.project(x, y)
	t, err := o.Open()
	if err != nil {
		return false
	}
	defer t.Close()
	t.Forward(x, y)
	for i := range x {
		if !finite(x[i], y[i]) {
			return false
		}
	}
	return true
}

// searches lists the questions in order: for the area, then for anywhere, then
// without datum shift.
func (c choice) searches() []search {
	all := []search{{everywhere: true}, {everywhere: true, ballpark: true}}
	if c.area == (Box{}) {
		return all
	}
	return append([]search{{area: c.area}}, all...)
}

func (c choice) usable(op object, q search) (Operation, bool) {
	plain, ok := op.normalised()
	if !ok {
		return Operation{}, false
	}
	out := Operation{Name: op.name(), Accuracy: op.accuracy(), Ballpark: op.ballpark(), Definition: plain.pipeline()}
	if out.Definition == "" {
		return Operation{}, false
	}
	if out.Accuracy < 0 && !out.Ballpark && c.sameDatum() {
		out.Accuracy = 0
	}
	if q.everywhere && c.area != (Box{}) && !out.Ballpark {
		out.Outside, out.Accuracy = true, -1
	}
	return out, true
}

func (c choice) sameDatum() bool {
	a, okA := c.from.geodetic()
	b, okB := c.to.geodetic()
	return okA && okB && a.same(b)
}

// accept adds what is known about better operations and holds the result
// against the accuracy asked for.
func (c choice) accept(out Operation) (Operation, error) {
	if out.Accuracy != 0 {
		out.Better = c.better(out.Accuracy)
	}
	most := c.options.MaxError
	if most <= 0 || out.Accuracy >= 0 && out.Accuracy <= most {
		return out, nil
	}
	fix := "accept a larger error, or use a map in another CRS"
	if out.Better != "" {
		fix = "install the missing grid file for " + out.Better + ", or accept a larger error"
	}
	return Operation{}, refuse(fix, "the best transformation from %s to %s is good to %s, and %g m is asked for",
		c.from.label(), c.to.label(), metres(out.Accuracy), most)
}

// better describes the most accurate operation that beats the given accuracy
// and lacks only grid files.
func (c choice) better(than float64) string {
	ops, err := c.s.operations(c.from, c.to, search{area: c.area, everywhere: c.area == (Box{}), unready: true})
	if err != nil {
		return ""
	}
	found := ""
	for _, op := range ops {
		accuracy, missing := op.accuracy(), op.missingGrids()
		if op.ballpark() || accuracy < 0 || len(missing) == 0 || than >= 0 && accuracy >= than {
			continue
		}
		found = fmt.Sprintf("%s (%s; needs %s)", op.name(), metres(accuracy), strings.Join(missing, ", "))
		than = accuracy
	}
	return found
}

func (c choice) refuseBallpark() error {
	fix := "give the map in another CRS, or write `accept ballpark: yes` on that map if an error of some hundred metres does no harm"
	if better := c.better(-1); better != "" {
		fix = "install the missing grid file for " + better + "; or " + fix
	}
	return refuse(fix, "from %s to %s there is only a ballpark transformation, without datum shift",
		c.from.label(), c.to.label())
}

func metres(accuracy float64) string {
	if accuracy < 0 {
		return "an unknown error"
	}
	return fmt.Sprintf("%g m", accuracy)
}

// label names a CRS in a message.
func (o object) label() string {
	if id := o.code(); id != "" {
		return id
	}
	return shorten(o.name())
}
