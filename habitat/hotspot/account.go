package hotspot

import (
	"fmt"
	"math"
	"strconv"

	"likelyground/raster/patch"
)

// Account tells what the search met, shown or not.
type Account struct {
	From       float64 // the threshold used, a multiple of 1/16384
	LeastHa    float64
	OrLength   float64 // metres; 0: length alone keeps no patch
	Most       int
	Cells      int64   // cells that score From or more
	Found      int64   // patches of such cells
	TooSmall   int64   // of those, smaller than LeastHa (and shorter than OrLength, if there is one)
	BeyondMost int64   // of those, large enough but ranked after Most others
	Highest    float64 // highest score of any cell; NaN where no score is known
	Largest    *Small  // the largest patch that was too small; nil where none was
}

// Small is a patch that was too small to be a hotspot.
type Small struct {
	AreaHa, Mean, Max float64
	Cells             int64
	First             patch.Cell // its northernmost, then westernmost cell
}

func account(s *patch.Solution, rule Rule) Account {
	enough := int64(len(s.Patches)) + s.Tally.Beyond
	a := Account{
		From:       float64(rule.Threshold()),
		LeastHa:    rule.LeastHa,
		OrLength:   rule.OrLength,
		Most:       rule.most(),
		Cells:      s.Tally.Cells,
		Found:      enough + s.Tally.Small,
		TooSmall:   s.Tally.Small,
		BeyondMost: max(enough-int64(rule.most()), 0),
		Highest:    float64(s.Tally.Highest),
	}
	if l := s.Tally.Largest; l != nil {
		a.Largest = &Small{hectares(l.Area), l.Mean(), score(l.Max), l.Cells, l.First}
	}
	return a
}

// Shown returns how many hotspots there are.
func (a Account) Shown() int64 { return a.Found - a.TooSmall - a.BeyondMost }

// Advice says, where there is no hotspot at all, which part of the rule would
// have to be loosened and how far; it is empty where there are hotspots.
func (a Account) Advice() string {
	switch {
	case a.Shown() > 0:
		return ""
	case math.IsNaN(a.Highest):
		return "no cell has a score: see which maps are missing here"
	case a.Largest == nil:
		return fmt.Sprintf("no cell scores %s or more, the highest scores %s: lower `from` to at most that",
			short(a.From), down(a.Highest, 4))
	}
	length := ""
	if a.OrLength > 0 {
		length = fmt.Sprintf(" or a length of %s m", number(a.OrLength))
	}
	return fmt.Sprintf("%s of cells that score %s or more, but none reaches %s ha%s, the largest has %s ha: lower `least` to at most that, or lower `from`",
		patches(a.Found), short(a.From), number(a.LeastHa), length, down(a.Largest.AreaHa, 4))
}

func patches(n int64) string {
	if n == 1 {
		return "there is 1 patch"
	}
	return fmt.Sprintf("there are %d patches", n)
}

// down writes a number with at most the given decimals, never larger than it
// is, so that a limit set to what is written lets the number in.
func down(v float64, decimals int) string {
	p := math.Pow10(decimals)
	return number(math.Floor(v*p) / p)
}

// short writes a number with at most four decimals, rounded.
func short(v float64) string { return number(math.Round(v*1e4) / 1e4) }

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
