package habitat

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"likelyground/habitat/legends"
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/maps"
	"likelyground/raster/nearby"
)

// classes ties the class names of a plan to the codes of a map.
type classes struct {
	m       *plan.Map
	legend  plan.Legend          // of codes, or of the texts of a field; nil: codes have no names
	own     bool                 // the legend is what the raster itself names: it need not name all
	texts   []string             // of a text field: the code is the index
	groups  [][]plan.LegendGroup // of each text that has no legend: of classes joined by name
	place   []int                // of each text in the legend, -1 where it is not in it; nil without a legend
	derived bool                 // of a derived layer
	mix     []maps.Mixture       // of polygons of several classes: the code of a cell is the place; nil else
	gone    bool                 // an optional map that has no ground here: no cell has a class
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

// take learns the texts of a polygon map's field. The legend, where there is
// one, must be of them.
func (c *classes) take(p *maps.Polygons) error {
	c.mix = p.Mixtures()
	if p.Numeric() {
		return c.refuseTexts()
	}
	return c.takeTexts(p.Classes())
}

// takeTexts finds each text of a field in the legend.
func (c *classes) takeTexts(texts []string) error {
	c.texts = texts
	if c.texts == nil {
		c.texts = []string{}
	}
	if c.m.Legend == nil {
		return nil
	}
	c.place = make([]int, len(c.texts))
	for i, text := range c.texts {
		var whole bool
		if c.place[i], whole = c.placeOf(text); !whole {
			return &Fault{What: fmt.Sprintf("the field %q of the map %q holds names already, so a legend of codes explains nothing", c.m.Field, c.m.Name),
				Fix: "take the legend out and use the field's own names, give the legend a column text in place of code, or name a field of codes"}
		}
	}
	return nil
}

// refuseTexts refuses a legend of texts for a raster or a field of numbers.
func (c *classes) refuseTexts() error {
	if !c.legend.Texts() {
		return nil
	}
	return &Fault{What: fmt.Sprintf("the map %q holds numbers, and its legend is one of texts", c.m.Name),
		Fix: "name a field of texts, or use a legend with the column code"}
}

// placeOf returns where the legend has what a text field holds, -1 where it
// has it not. whole is false for a name where a legend of the user has codes.
func (c *classes) placeOf(text string) (at int, whole bool) {
	b := c.m.Legend.Open()
	switch {
	case b != nil && b.Kind == legends.Texts:
		at = b.ClassOf(text)
		return at, true
	case c.legend.Texts():
		return slices.IndexFunc(c.legend, func(e plan.LegendEntry) bool { return e.Text == strings.TrimSpace(text) }), true
	}
	code, err := strconv.ParseInt(strings.TrimSpace(text), 10, 32)
	if err != nil {
		return -1, b != nil
	}
	return slices.IndexFunc(c.legend, func(e plan.LegendEntry) bool { return e.Code == int32(code) }), true
}

// entry returns what the legend says of a code of the map.
func (c *classes) entry(code int32) (e plan.LegendEntry, ok bool) {
	if c.texts == nil {
		return c.legend.Entry(code)
	}
	if code < 0 || int(code) >= len(c.place) || c.place[code] < 0 {
		return e, false
	}
	return c.legend[c.place[code]], true
}

// name returns what a code is called.
func (c *classes) name(code int32) string {
	if e, ok := c.entry(code); ok {
		return e.Name
	}
	if code >= 0 && int(code) < len(c.texts) {
		return c.texts[code]
	}
	if c.derived && code == unnamed {
		return "a class that its map has no name for"
	}
	return strconv.Itoa(int(code))
}

// key returns what a plan may call a code: its name, or the figures of the
// code where a group with other classes in it has the same name.
func (c *classes) key(code int32) string {
	name := c.name(code)
	v := plan.Vocabulary{Classes: c.legend, Loose: c.m.Legend.Open() != nil}
	if e, ok := c.entry(code); ok && v.Loose && len(v.Name([]plan.Class{{Name: name}}).Both) > 0 {
		return strconv.Itoa(int(e.Code))
	}
	return name
}

// known reports whether the map's legend has a code; without a legend, or with
// the raster's own names, every code is known.
func (c *classes) known(code int32) bool {
	if c.own || c.legend == nil {
		return true
	}
	_, ok := c.entry(code)
	return ok
}

// written is a code as it stands in the map.
func (c *classes) written(code int32) string {
	if c.texts != nil && code >= 0 && int(code) < len(c.texts) {
		return fmt.Sprintf("text %q", c.texts[code])
	}
	return fmt.Sprintf("code %d", code)
}

// unknownClass is a class of the plan that the map does not have, or not as
// one that can be told from others.
type unknownClass struct {
	class plan.Class
	what  string
	fix   string
	mild  bool // the map merely lacks it
}

// assign ties each code of the map to the class, of a list of the plan, that
// names it, and tells which of the list name none. scored: two classes of the
// list may not name one of the map.
func (c *classes) assign(keys []plan.Class, scored bool) (hits map[int32]plan.Hit, odd []*unknownClass) {
	hits = map[int32]plan.Hit{}
	switch {
	case c.legend != nil:
		v := plan.Vocabulary{Classes: c.legend, Loose: c.m.Legend.Open() != nil}
		n := v.Name(keys)
		c.spread(n.Hits, hits)
		return hits, c.wrong(v, n, keys, scored)
	case c.gone:
		return hits, nil
	case c.texts != nil:
		return c.byText(keys, hits)
	}
	return c.byCode(keys, hits)
}

// spread hands what names the classes of the legend to the codes of the map.
func (c *classes) spread(of []plan.Hit, hits map[int32]plan.Hit) {
	if c.texts == nil {
		for i, h := range of {
			if h.Key >= 0 {
				hits[c.legend[i].Code] = h
			}
		}
		return
	}
	for code, at := range c.place {
		if at >= 0 && of[at].Key >= 0 {
			hits[int32(code)] = of[at]
		}
	}
}

// wrong tells what is wrong with classes that the legend should have.
func (c *classes) wrong(v plan.Vocabulary, n plan.Naming, keys []plan.Class, scored bool) (odd []*unknownClass) {
	for _, i := range n.Idle {
		odd = append(odd, c.notInLegend(v, keys[i]))
	}
	for _, i := range n.Both {
		odd = append(odd, &unknownClass{class: keys[i], what: fmt.Sprintf("%s is a class of the map %q and also a group of several", keys[i], c.m.Name), fix: "give one of the two another name in the legend"})
	}
	for _, t := range n.Ties {
		if scored {
			odd = append(odd, &unknownClass{class: keys[t.Other], what: fmt.Sprintf("%s and %s both name the class %q of the map %q", keys[t.Other], keys[t.First], v.Classes[t.Class].Name, c.m.Name), fix: "keep one of them"})
		}
	}
	return odd
}

func (c *classes) notInLegend(v plan.Vocabulary, class plan.Class) *unknownClass {
	u := &unknownClass{class: class, what: fmt.Sprintf("the legend of the map %q has no class %s", c.m.Name, class)}
	if class.Match == plan.Contains {
		u.what = fmt.Sprintf("no class in the legend of the map %q holds the words %s", c.m.Name, class)
	}
	if near := v.Near(class); near != "" {
		u.fix = fmt.Sprintf("did you mean %q?", near)
		return u
	}
	u.fix = "use one of its classes: " + listed(c.legend.Names(), 12)
	if groups := c.legend.GroupNames(); len(groups) > 0 {
		u.fix += "; or a group: " + listed(groups, 12)
	}
	return u
}

// byCode ties codes that have no names.
func (c *classes) byCode(keys []plan.Class, hits map[int32]plan.Hit) (_ map[int32]plan.Hit, odd []*unknownClass) {
	for i, k := range keys {
		code, err := strconv.ParseInt(k.Name, 10, 32)
		switch {
		case k.IsCode:
			hits[k.Code] = plan.Hit{Key: i, As: plan.AsCode}
		case err == nil:
			hits[int32(code)] = plan.Hit{Key: i, As: plan.AsCode}
		default:
			odd = append(odd, &unknownClass{class: k, what: fmt.Sprintf("the map %q has no legend, so it knows no class %q", c.m.Name, k.Name),
				fix: fmt.Sprintf("give the map %q a legend, such as legend: cover_legend.csv with the columns code,name, or write codes", c.m.Name)})
		}
	}
	return hits, odd
}

// byText ties the texts of a field that has no legend. What names none of them
// is a slip where one that nothing names is near; else the map merely lacks it.
func (c *classes) byText(keys []plan.Class, hits map[int32]plan.Hit) (_ map[int32]plan.Hit, odd []*unknownClass) {
	keys = slices.Clone(keys)
	for i, k := range keys {
		if k.IsCode {
			keys[i].Name, keys[i].IsCode = strconv.Itoa(int(k.Code)), false
		}
	}
	var v plan.Vocabulary
	for i, text := range c.texts {
		e := plan.LegendEntry{Text: text, Name: text}
		if i < len(c.groups) {
			e.Groups = c.groups[i]
		}
		v.Classes = append(v.Classes, e)
	}
	n := v.Name(keys)
	for code, h := range n.Hits {
		if h.Key >= 0 {
			hits[int32(code)] = h
		}
	}
	for _, i := range n.Idle {
		odd = append(odd, c.notInField(keys[i], keys))
	}
	return hits, append(odd, c.doubtful(v, n, keys)...)
}

// doubtful tells which classes of a list mean two things, or mean one class of
// the map twice over by groups of it.
func (c *classes) doubtful(v plan.Vocabulary, n plan.Naming, keys []plan.Class) (odd []*unknownClass) {
	for _, i := range n.Both {
		odd = append(odd, &unknownClass{class: keys[i], what: fmt.Sprintf("%s is a class of the %s %q and also a group of several", keys[i], c.what(), c.m.Name), fix: "name the classes of the group one by one, or give one of the two another name in a legend of yours"})
	}
	for _, t := range n.Ties {
		odd = append(odd, &unknownClass{class: keys[t.Other], what: fmt.Sprintf("%s and %s both name the class %q of the %s %q", keys[t.Other], keys[t.First], v.Classes[t.Class].Name, c.what(), c.m.Name), fix: "keep one of them, or give that class a line of its own"})
	}
	return odd
}

func (c *classes) notInField(class plan.Class, beside []plan.Class) *unknownClass {
	u := &unknownClass{class: class, what: fmt.Sprintf("the map %q has no class %s", c.m.Name, class)}
	switch class.Match {
	case plan.Contains:
		u.what = fmt.Sprintf("no text of the map %q holds the words %s", c.m.Name, class)
	case plan.LastPart:
		u.what = fmt.Sprintf("no text of the map %q ends in the part %s", c.m.Name, class)
	}
	if near := c.slip(class, beside); near != "" {
		u.fix = fmt.Sprintf("did you mean %q?", near)
		return u
	}
	u.mild = true
	return u
}

// codes returns the codes of a single class of the plan, rising.
func (c *classes) codes(class plan.Class) ([]int32, *unknownClass) {
	hits, odd := c.assign([]plan.Class{class}, false)
	var out []int32
	for code := range hits {
		out = append(out, code)
	}
	slices.Sort(out)
	if len(odd) > 0 {
		return out, odd[0]
	}
	return out, nil
}

// member returns the table that tells which codes are of the given classes.
func (c *classes) member(of []plan.Class, f *faults) *raster.CodeTable[uint8] {
	hits, odd := c.assign(of, false)
	f.unknownClasses(odd)
	in := map[int32]uint8{}
	for code := range hits {
		in[code] = nearby.Yes
	}
	if c.mixed() {
		return c.memberOfParts(in)
	}
	return raster.NewCodeTable(in, nearby.Missing, nearby.No)
}

// unknownClasses notes classes that a map does not have: wrong, or merely odd.
func (f *faults) unknownClasses(all []*unknownClass) {
	for _, u := range all {
		if u.mild {
			f.plan.Warnings = append(f.plan.Warnings, f.plan.PointAt(u.class.Pos, u.what, "if that is a slip, correct it; if the map merely lacks it here, nothing is wrong"))
			continue
		}
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
