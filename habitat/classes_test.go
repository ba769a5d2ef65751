package habitat

import (
	"fmt"
	"testing"

	"likelyground/habitat/plan"
)

// TestSlip: a class that a map lacks is a slip of the keys only where one of
// the map's own, which the plan does not name, is a letter or two away.
func TestSlip(t *testing.T) {
	c := &classes{m: &plan.Map{Name: "rock"}, texts: []string{"boulder clay", "plateau sand", "sandstone"}}
	for name, want := range map[string]string{
		"sandstome":     "sandstone",
		"Sandstone":     "sandstone",
		"plateau snad":  "plateau sand",
		"mudstone":      "",
		"boulder clays": "", // the plan names the other one beside it
		"peat":          "",
	} {
		if got := c.slip(plan.Class{Name: name}, []plan.Class{{Name: "boulder clay"}}); got != want {
			t.Errorf("%q is taken for %q, want %q", name, got, want)
		}
	}
}

// textsOf is a field of texts as if opened, with the given legend.
func textsOf(use *plan.LegendUse, legend plan.Legend, texts ...string) (*classes, error) {
	c := newClasses(&plan.Map{Name: "land", Field: "code", Legend: use}, legend)
	return c, c.takeTexts(texts)
}

// TestTextsWithLegend: the texts of a field go by what the legend calls them;
// what it has not is not known.
func TestTextsWithLegend(t *testing.T) {
	for _, c := range []struct {
		built  string
		legend plan.Legend
		texts  []string
		key    string
		want   string // names, codes that the key has, what is not known
	}{
		{built: "corine", texts: []string{"112", "311", "312", "777"}, key: "Forests",
			want: "Discontinuous urban fabric, Broad-leaved forest, Coniferous forest, 777; [1 2]; [3]"},
		{built: "glim", texts: []string{"SC", "ss", "xy"}, key: "sedimentary rocks",
			want: "Carbonate sedimentary rocks, Siliciclastic sedimentary rocks, xy; [0 1]; [2]"},
		{legend: plan.Legend{{Text: "zVz", Name: "clay", Groups: []plan.LegendGroup{{Name: "heavy", Up: 1}}}, {Text: "hVb", Name: "peat"}}, texts: []string{"hVb", "zVz"}, key: "heavy",
			want: "peat, clay; [1]; []"},
		{legend: plan.Legend{{Code: 5, Name: "heath"}}, texts: []string{"05", "6"}, key: "heath", want: "heath, 6; [0]; [1]"},
	} {
		use := &plan.LegendUse{File: "l.csv"}
		if c.built != "" {
			use = &plan.LegendUse{BuiltIn: c.built}
			c.legend = use.Known()
		}
		got, err := textsOf(use, c.legend, c.texts...)
		if err != nil {
			t.Errorf("%s: %v", c.key, err)
			continue
		}
		names, strange := "", []int32{}
		for i := range c.texts {
			if names += ", " + got.name(int32(i)); !got.known(int32(i)) {
				strange = append(strange, int32(i))
			}
		}
		codes, odd := got.codes(plan.Class{Name: c.key})
		if told := fmt.Sprintf("%s; %v; %v", names[2:], codes, strange); told != c.want || odd != nil {
			t.Errorf("%s: %s %v, want %s", c.key, told, odd, c.want)
		}
	}
	if _, err := textsOf(&plan.LegendUse{File: "l.csv"}, plan.Legend{{Code: 5, Name: "heath"}}, "5", "wet"); err == nil {
		t.Error("a legend of codes is taken for names")
	}
}

// TestWordsAndPartsOfAField: near words of five letters and more are slips,
// unless the plan names them beside; others are merely lacking.
func TestWordsAndPartsOfAField(t *testing.T) {
	texts := []string{"MUDSTONE AND SANDSTONE", "SILT", "http://x.org/lith#granite"}
	for _, c := range []struct {
		key  string
		how  plan.Match
		want string
	}{
		{"sandstone", plan.Contains, "[0] <nil>"},
		{"sandstome", plan.Contains, `[] did you mean "sandstone"?`},
		{"mudstone and sandstome", plan.Contains, `[] did you mean "mudstone and sandstone"?`},
		{"sand", plan.Contains, "[] mild"}, // "and" is near, and no slip of it
		{"salt", plan.Contains, "[] mild"},
		{"granite", plan.LastPart, "[2] <nil>"},
		{"granit", plan.LastPart, `[] did you mean "granite"?`},
		{"basalt", plan.LastPart, "[] mild"},
	} {
		f := &classes{m: &plan.Map{Name: "rock"}, own: true, texts: texts}
		codes, odd := f.codes(plan.Class{Name: c.key, Match: c.how})
		got := fmt.Sprintf("%v <nil>", codes)
		switch {
		case odd != nil && odd.mild:
			got = fmt.Sprintf("%v mild", codes)
		case odd != nil:
			got = fmt.Sprintf("%v %s", codes, odd.fix)
		}
		if got != c.want {
			t.Errorf("%s by %s: %s, want %s", c.key, c.how, got, c.want)
		}
	}
}
