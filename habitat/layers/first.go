package layers

import (
	"fmt"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/pipe"
)

// firstQuantity is, of several quantities, the first that is known.
func firstQuantity(d plan.Derived, in []Layer, _ Context) (*pipe.Node, error) {
	n := &pipe.Node{}
	for _, l := range in {
		if l.Member != nil {
			return nil, unlike(d, l, in[0])
		}
		n.Inputs = append(n.Inputs, l.Node)
	}
	n.Open = pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
		copy(out.Values, in[0].Values)
		for _, t := range in[1:] {
			for i, v := range t.Values[:len(out.Values)] {
				if was := out.Values[i]; was != was {
					out.Values[i] = v
				}
			}
		}
		return nil
	})
	return n, nil
}

func unlike(d plan.Derived, classes, numbers Layer) error {
	return &Mismatch{fmt.Sprintf("%q falls from numbers to classes: %q holds numbers and %q classes", d.Name, numbers.Name, classes.Name),
		"name layers that all hold classes, or all numbers"}
}

// firstClass is, of several layers of classes, the class of the first that is
// known, in the set of classes that joins them.
func firstClass(d plan.Derived, in []Layer, c Context) (Layer, error) {
	n := &pipe.Node{Name: d.Name, Kind: pipe.Class}
	for _, l := range in {
		if l.Member == nil {
			return Layer{}, unlike(d, in[0], l)
		}
		n.Inputs = append(n.Inputs, l.Node)
	}
	tables, member, err := c.Join(d, in)
	if err != nil {
		return Layer{}, err
	}
	n.Open = pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
		for i := range out.Codes {
			out.Codes[i] = raster.MissingCode
		}
		for k, t := range in {
			fallThrough(out.Codes, t.Codes, tables[k])
		}
		return nil
	})
	return Layer{Name: d.Name, Node: n, Member: member}, nil
}

// fallThrough gives the cells that no layer before knows the class that this
// one has, by runs of one code.
func fallThrough(out, codes []int32, table *raster.CodeTable[int32]) {
	codes = codes[:len(out)]
	for from := 0; from < len(codes); {
		to := from + raster.Run(codes[from:])
		code := codes[from]
		if table != nil {
			code = table.At(code)
		}
		for i := from; i < to; i++ {
			if out[i] == raster.MissingCode {
				out[i] = code
			}
		}
		from = to
	}
}

// unitOf is the unit of several quantities: of the first that names one.
func unitOf(in []Layer) string {
	for _, l := range in {
		if l.Unit != "" {
			return l.Unit
		}
	}
	return ""
}
