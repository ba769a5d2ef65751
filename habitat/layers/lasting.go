package layers

import (
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
)

// Codes of a layer that tells lasting ground from other; plan.LastingLegend
// names them.
const (
	otherCode   int32 = 0
	lastingCode int32 = 1
)

// lasting is a layer of classes: lasting where every map shows the classes,
// other where at least one is known not to, else missing.
func lasting(d plan.Derived, in []Layer, _ Context) (*pipe.Node, error) {
	n := &pipe.Node{Kind: pipe.Class}
	var member []*raster.CodeTable[uint8]
	for i, l := range in {
		m, err := l.Member(d.On[i].Of)
		if err != nil {
			return nil, err
		}
		n.Inputs, member = append(n.Inputs, l.Node), append(member, m)
	}
	n.Open = pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
		for i := range out.Codes {
			out.Codes[i] = lastingCode
		}
		for k, m := range member {
			testify(out.Codes, in[k].Codes, m)
		}
		return nil
	})
	return n, nil
}

// testify lets one map speak: against a cell, or of not knowing it, where no
// other one spoke against it.
func testify(out, codes []int32, member *raster.CodeTable[uint8]) {
	codes = codes[:len(out)]
	for from := 0; from < len(codes); { // cells beside each other are mostly of one class
		code, to := codes[from], from+1
		for to < len(codes) && codes[to] == code {
			to++
		}
		switch member.At(code) {
		case nearby.No:
			for i := from; i < to; i++ {
				out[i] = otherCode
			}
		case nearby.Missing:
			for i := from; i < to; i++ {
				if out[i] == lastingCode {
					out[i] = raster.MissingCode
				}
			}
		}
		from = to
	}
}

// lastingMember tells which codes of a lasting layer are of the given
// classes.
func lastingMember(of []plan.Class) (*raster.CodeTable[uint8], error) {
	in := map[int32]uint8{}
	for i, h := range (plan.Vocabulary{Classes: plan.LastingLegend}).Name(of).Hits {
		if h.Key >= 0 {
			in[plan.LastingLegend[i].Code] = nearby.Yes
		}
	}
	return raster.NewCodeTable(in, nearby.Missing, nearby.No), nil
}

// Share returns the node of a layer whose values run from 0 to 1 as they
// stand: 1 for lasting ground and 0 for other.
func (l Layer) Share() *pipe.Node {
	if l.Node.Kind != pipe.Class {
		return l.Node
	}
	return &pipe.Node{Name: l.Name, Inputs: []*pipe.Node{l.Node}, Open: pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
		for i, code := range in[0].Codes {
			out.Values[i] = float32(code)
			if code == raster.MissingCode {
				out.Values[i] = raster.Missing
			}
		}
		return nil
	})}
}
