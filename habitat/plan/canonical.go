package plan

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
)

// Canonical returns what the plan says as JSON, in one way: comments, line
// ends, defaults written out or left out, and the order of keys do not change
// it, except for the order of factors, which the bands of factors.tif follow.
func (p *Plan) Canonical() []byte {
	c := *p
	c.Maps = slices.Clone(p.Maps)
	slices.SortFunc(c.Maps, func(a, b Map) int { return cmp.Compare(a.Name, b.Name) })
	c.Derived = slices.Clone(p.Derived)
	slices.SortFunc(c.Derived, func(a, b Derived) int { return cmp.Compare(a.Name, b.Name) })
	for i := range c.Derived {
		c.Derived[i].Of = ordered(c.Derived[i].Of)
		if d := c.Derived[i].Drains; d != nil {
			c.Derived[i].Drains = &Drains{Map: d.Map, Pos: d.Pos, Of: ordered(d.Of), Match: d.Match}
		}
		c.Derived[i].On = slices.Clone(c.Derived[i].On)
		for k := range c.Derived[i].On {
			c.Derived[i].On[k].Of = ordered(c.Derived[i].On[k].Of)
		}
	}
	c.Factors = canonicalFactors(p.Factors)
	c.KeepOut = slices.Clone(p.KeepOut)
	for i := range c.KeepOut {
		c.KeepOut[i].Of = ordered(c.KeepOut[i].Of)
	}
	out, err := json.MarshalIndent(c, "", "  ")
	if err != nil {
		panic(fmt.Sprintf("plan: a plan holds only what JSON can: %v", err))
	}
	return append(out, '\n')
}

// canonicalFactors sorts what has no order inside each factor.
func canonicalFactors(factors []Factor) []Factor {
	out := slices.Clone(factors)
	for i := range out {
		f := &out[i]
		if f.Scores != nil {
			s := *f.Scores
			s.Classes = slices.Clone(s.Classes)
			slices.SortFunc(s.Classes, func(a, b ClassScore) int { return compareClasses(a.Class, b.Class) })
			f.Scores = &s
		}
		f.Members = canonicalFactors(f.Members)
		slices.SortFunc(f.Members, func(a, b Factor) int { return cmp.Compare(a.Name, b.Name) })
	}
	return out
}

func ordered(classes []Class) []Class {
	out := slices.Clone(classes)
	slices.SortFunc(out, compareClasses)
	return out
}

func compareClasses(a, b Class) int {
	return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Code, b.Code))
}

// Hash returns the SHA-256 of [Plan.Canonical] in hexadecimal.
func (p *Plan) Hash() string {
	sum := sha256.Sum256(p.Canonical())
	return hex.EncodeToString(sum[:])
}
