package habitat

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/maps"
	"likelyground/raster/nearby"
)

// classes ties the class names of a plan to the codes of a map.
type classes struct {
	m       *plan.Map
	legend  plan.Legend // of a raster, or of a numeric field; nil: codes have no names
	own     bool        // the legend is what the raster itself names: it need not name all
	texts   []string    // of a text field: the code is the index
	derived bool        // of a derived layer
	gone    bool        // an optional map that has no ground here: no cell has a class
}

func newClasses(m *plan.Map, legend plan.Legend) *classes {
	return &classes{m: m, legend: legend, own: m.Legend == nil}
}

// derivedClasses are those of a derived layer of classes.
func derivedClasses(name string) *classes {
	c := newClasses(&plan.Map{Name: name}, plan.LastingLegend)
	c.derived = true
	return c
}

// what says what has the classes.
func (c *classes) what() string {
	if c.derived {
		return "layer"
	}
	return "map"
}

// slip returns the class of a map that a name of the plan is most likely
// meant to be: a slip of a key or two away, and not named beside it itself.
func (c *classes) slip(name string, beside []plan.Class) string {
	best, fewest := "", max(1, len([]rune(name))/5)+1
	for _, known := range c.texts {
		if n := plan.Misspelling(name, known); n >= 0 && n < fewest && !names(beside, known) {
			best, fewest = known, n
		}
	}
	return best
}

// names reports whether a list of the plan names a class.
func names(list []plan.Class, name string) bool {
	return slices.ContainsFunc(list, func(c plan.Class) bool { return c.Name == name })
}

// take learns the texts of a polygon map's field.
func (c *classes) take(p *maps.Polygons) {
	if !p.Numeric() {
		c.texts = p.Classes()
	}
}

// name returns what a code is called.
func (c *classes) name(code int32) string {
	if c.texts != nil {
		if code >= 0 && int(code) < len(c.texts) {
			return c.texts[code]
		}
		if c.derived && code == unnamed {
			return "a class that its map has no name for"
		}
		return strconv.Itoa(int(code))
	}
	if name, ok := c.legend.Name(code); ok {
		return name
	}
	return strconv.Itoa(int(code))
}

// known reports whether the map's legend has a code; without a legend, or with
// the raster's own names, every code is known.
func (c *classes) known(code int32) bool {
	if c.legend == nil || c.own {
		return true
	}
	_, ok := c.legend.Name(code)
	return ok
}

// unknownClass is a class of the plan that the map does not have.
type unknownClass struct {
	class plan.Class
	what  string
	fix   string
	mild  bool // the map merely lacks it
}

// codes returns the codes of a class of the plan.
func (c *classes) codes(class plan.Class, beside ...plan.Class) ([]int32, *unknownClass) {
	if c.gone && c.legend == nil {
		return nil, nil
	}
	if class.IsCode {
		return c.byCode(class, beside)
	}
	if c.texts != nil {
		return c.byText(class, beside)
	}
	if c.legend != nil {
		if codes := c.legend.Codes(class.Name); codes != nil {
			return codes, nil
		}
		return nil, c.notInLegend(class, class.Name)
	}
	if code, err := strconv.ParseInt(class.Name, 10, 32); err == nil {
		return []int32{int32(code)}, nil
	}
	return nil, &unknownClass{class: class, what: fmt.Sprintf("the map %q has no legend, so it knows no class %q", c.m.Name, class.Name),
		fix: fmt.Sprintf("give the map %q a legend, such as legend: cover_legend.csv with the columns code,name, or write codes", c.m.Name)}
}

func (c *classes) byCode(class plan.Class, beside []plan.Class) ([]int32, *unknownClass) {
	if c.texts != nil {
		return c.byText(plan.Class{Name: strconv.Itoa(int(class.Code)), Pos: class.Pos}, beside)
	}
	if !c.known(class.Code) {
		return nil, c.notInLegend(class, strconv.Itoa(int(class.Code)))
	}
	return []int32{class.Code}, nil
}

func (c *classes) byText(class plan.Class, beside []plan.Class) ([]int32, *unknownClass) {
	if at, ok := slices.BinarySearch(c.texts, class.Name); ok {
		return []int32{int32(at)}, nil
	}
	u := &unknownClass{class: class, what: fmt.Sprintf("the map %q has no class %q", c.m.Name, class.Name)}
	if near := c.slip(class.Name, beside); near != "" {
		u.fix = fmt.Sprintf("did you mean %q?", near)
		return nil, u
	}
	u.mild = true
	return nil, u
}

func (c *classes) notInLegend(class plan.Class, name string) *unknownClass {
	u := &unknownClass{class: class, what: fmt.Sprintf("the legend of the map %q has no class %q", c.m.Name, name)}
	if near := plan.Suggest(name, c.legend.Names()); near != "" {
		u.fix = fmt.Sprintf("did you mean %q?", near)
	} else {
		u.fix = "use one of its classes: " + listed(c.legend.Names(), 12)
	}
	return u
}

// member returns the table that tells which codes are of the given classes.
func (c *classes) member(of []plan.Class, f *faults) *raster.CodeTable[uint8] {
	in := map[int32]uint8{}
	for _, class := range of {
		codes, unknown := c.codes(class, of...)
		f.unknownClass(unknown)
		for _, code := range codes {
			in[code] = nearby.Yes
		}
	}
	return raster.NewCodeTable(in, nearby.Missing, nearby.No)
}

// unknownClass notes a class that a map does not have: wrong, or merely odd.
func (f *faults) unknownClass(u *unknownClass) {
	switch {
	case u == nil:
	case u.mild:
		f.plan.Warnings = append(f.plan.Warnings, f.plan.PointAt(u.class.Pos, u.what, "if that is a slip, correct it; if the map merely lacks it here, nothing is wrong"))
	default:
		f.say(u.class.Pos, u.what, u.fix)
	}
}

// listed joins names for a message, at most a number of them.
func listed(names []string, most int) string {
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
}
