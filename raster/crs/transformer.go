package crs

import (
	"fmt"
	"math"
)

// Transformer carries out an [Operation]. It owns C memory that only Close
// frees, and is not for two goroutines: each worker opens its own.
type Transformer struct {
	s  *session // nil for the identity
	op object
}

// Open readies the operation for use. It fails when PROJ does not accept the
// definition, as when a grid file has vanished since the operation was chosen.
func (o Operation) Open() (*Transformer, error) {
	if o.Identity {
		return &Transformer{}, nil
	}
	s, err := newSession()
	if err != nil {
		return nil, err
	}
	op, ok := s.create(o.Definition)
	if !ok {
		defer s.close()
		return nil, fmt.Errorf("transformation %q from %s to %s cannot be opened: %s", o.Name, o.From, o.To, s.trouble())
	}
	return &Transformer{s: s, op: op}, nil
}

// Forward transforms points in place, x east and y north, in the units of the
// two CRSs. x and y have the same length. A point that cannot be transformed
// becomes +Inf in both.
func (t *Transformer) Forward(x, y []float64) { t.run(false, x, y) }

// Inverse is Forward the other way round.
func (t *Transformer) Inverse(x, y []float64) { t.run(true, x, y) }

// Close frees what the transformer holds; it may be called twice. No other
// method may be called after it.
func (t *Transformer) Close() {
	if t.s != nil {
		t.s.close()
	}
}

func (t *Transformer) run(inverse bool, x, y []float64) {
	y = y[:len(x)]
	if t.s != nil {
		t.op.transform(inverse, x, y)
	}
	for i := range x {
		if !finite(x[i], y[i]) {
			x[i], y[i] = math.Inf(1), math.Inf(1)
		}
	}
}

func finite(x, y float64) bool {
	return math.Abs(x) <= math.MaxFloat64 && math.Abs(y) <= math.MaxFloat64
}
