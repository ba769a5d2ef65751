package maps

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// CodeCount says how many needed grid cells have a class code.
type CodeCount struct {
	Code  int32
	Cells int64
}

// Findings is what was seen of a map in the cells that were read and needed.
type Findings struct {
	Known, Missing int64       // grid cells
	Gaps           int64       // of the missing cells of the grid, in a map of many files: no file covers the centre
	Low, High      float64     // of the known values, quantities only; NaN where none is known
	Codes          []CodeCount // by code, classes only
	Clipped        int64       // source cells outside the plan's range, taken as missing
	Infinite       int64       // source cells with an infinite number, taken as missing
	StandIns       []float64   // numbers of the file that look like a sign for no data and are not declared
	Beyond         int64       // source cells outside what such a quantity can be
	Hidden         int64       // grid cells in several polygons that differ in class or number: the later one counts
	NotCodes       int64       // source cells whose number is no class code
	Problems       []*Problem  // what the plan must say more about, worst first
	Notes          []string    // warnings of headers
}

// Problem returns the first problem as an error, nil when there is none.
func (f Findings) Problem() error {
	if len(f.Problems) == 0 {
		return nil
	}
	return f.Problems[0]
}

// Judge returns what the readers found so far. Counted are the cells that were
// marked as needed, and the source cells that these use; neither depends on
// the tiles. A map without any known cell is a problem.
func (r *Raster) Judge() Findings {
	t := r.tally
	t.mu.Lock()
	defer t.mu.Unlock()
	f := Findings{Known: t.counts.known, Missing: t.counts.missing, Gaps: t.counts.gaps, Low: math.NaN(), High: math.NaN(),
		Clipped: t.odd[clipped].n, Infinite: t.odd[unbounded].n}
	if !r.spec.Classes && f.Known > 0 {
		f.Low, f.High = float64(t.counts.low), float64(t.counts.high)
	}
	f.Codes = t.counts.sorted()
	for i := range t.odd {
		kind := flag((i + int(sentinel)) % flagKinds) // sentinels first: they explain the rest
		if o := t.odd[kind]; o.n > 0 && kind.wrong() {
			f.Problems = append(f.Problems, r.oddProblem(kind, o))
			f.sort(kind, o)
		}
	}
	if f.Known == 0 && f.Missing > 0 && len(f.Problems) == 0 {
		f.Problems = append(f.Problems, r.nothingKnown(f))
	}
	for _, fact := range r.facts {
		for _, n := range fact.Notes {
			f.Notes = append(f.Notes, fmt.Sprintf("%s: %s", fact.Path, n))
		}
	}
	return f
}

// sort counts odd cells by what would mend them.
func (f *Findings) sort(kind flag, o oddCells) {
	switch kind {
	case notACode:
		f.NotCodes += o.n
	case tooLow, tooHigh:
		f.Beyond += o.n
	default:
		f.StandIns = append(f.StandIns, o.value)
	}
}

// sorted lists the codes that were met.
func (c *counts) sorted() []CodeCount {
	var out []CodeCount
	for code, n := range c.few {
		if n > 0 {
			out = append(out, CodeCount{int32(code), n})
		}
	}
	for code, n := range c.many {
		if n > 0 {
			out = append(out, CodeCount{code, n})
		}
	}
	slices.SortFunc(out, func(a, b CodeCount) int { return int(a.Code) - int(b.Code) })
	return out
}

// nothingKnown is the problem of a map that says nothing about the area.
func (r *Raster) nothingKnown(f Findings) *Problem {
	p := r.spec.problem(r.spec.Files[0], "the map covers the area, but none of its cells there is known",
		"use a map that knows this area, or correct missing: and band:; optional: true goes on without it")
	p.Elsewhere = true
	if f.Clipped > 0 {
		p.Fix = "correct between: (its numbers are in the map's unit, after scale), or leave it out"
	}
	return p
}

// oddProblem puts into words what was found of one kind.
func (r *Raster) oddProblem(kind flag, o oddCells) *Problem {
	file := r.parts[o.first.part].fileAt(o.first.col, o.first.row)
	p := &Problem{Map: r.spec.Name, File: file.path, Band: file.band + 1}
	where := fmt.Sprintf("%s of the map that the area uses, first in column %d, row %d",
		cellCount(o.n), o.first.col-file.at.Col, o.first.row-file.at.Row)
	x := number(o.value)
	switch kind {
	case notACode:
		p.What = fmt.Sprintf("%s is no class code: it stands in %s", x, where)
		p.Fix = "give a map of whole-numbered classes, or use this one as a quantity"
	case tooLow, tooHigh:
		v := number(file.physical(o.value))
		p.What = fmt.Sprintf("%s cannot be %s: such values stand in %s", strings.TrimSpace(v+" "+r.unitWord()), r.quantityWord(), where)
		p.Fix = fmt.Sprintf("say between: [%s] to take the others as missing, missing: %s if that number means no data, scale: if the file's numbers are in another unit, or missing: none to insist", r.rangeWords(), x)
		if tenth := file.physical(o.value) / 10; kind == tooHigh && r.spec.Unit == "pH" && tenth >= r.rules.low && tenth <= r.rules.high {
			p.Fix = fmt.Sprintf("say scale: %g if the file holds tenths of pH, as many do; else %s", file.scale/10, p.Fix)
		}
	default:
		p.What = fmt.Sprintf("%s looks like a sign for no data, and nothing declares it: it stands in %s", x, where)
		p.Fix = fmt.Sprintf("say missing: %s; or missing: none if it is a real value", x)
	}
	return p
}

func (r *Raster) unitWord() string {
	if r.spec.Unit == "pH" {
		return ""
	}
	if r.spec.Unit == "" && r.spec.Elevation {
		return "m"
	}
	return r.spec.Unit
}

func (r *Raster) quantityWord() string {
	if r.spec.Elevation {
		return "a height"
	}
	return "a pH"
}

func (r *Raster) rangeWords() string {
	switch {
	case r.spec.Elevation && r.spec.Unit == "ft":
		return "-1640, 29527"
	case r.spec.Elevation:
		return "-500, 9000"
	}
	return "3, 10"
}

// number writes a number the shortest way that reads back.
func number(x float64) string {
	if x == math.Trunc(x) && math.Abs(x) < 1e15 {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	if math.Abs(x) >= hugeNumber && math.Abs(x) <= 2*math.MaxFloat32 {
		return strconv.FormatFloat(x, 'g', -1, 32)
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// cellCount writes a number of cells.
func cellCount(n int64) string {
	if n == 1 {
		return "1 cell"
	}
	return fmt.Sprintf("%d cells", n)
}
