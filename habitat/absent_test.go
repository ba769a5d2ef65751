package habitat

import (
	"errors"
	"testing"

	"likelyground/habitat/plan"
)

// coverOf reads a plan whose map cover has the given legend and where absent.
func coverOf(t *testing.T, keys string) (opener, *source) {
	t.Helper()
	p, err := plan.Read("plan.yaml", []byte(`{format: 1, grid: {like: ground}, maps: {ground: {file: dem.tif}, cover: {file: cover.tif, `+keys+`}},
factors: {cover: {from: cover, scores: {`+"1: 1, 7: 0"+`}}}}`))
	if err != nil {
		t.Fatal(err)
	}
	m := findMap(p, "cover")
	var legend plan.Legend
	if m.Legend != nil {
		legend = m.Legend.Inline
	}
	return opener{plan: p}, &source{m: m, classes: newClasses(m, legend)}
}

// TestAbsentClass: the class of uncovered ground becomes its code.
func TestAbsentClass(t *testing.T) {
	o, s := coverOf(t, "where absent: 7")
	if code, err := o.absentCode(s); err != nil || *code != 7 {
		t.Error(code, err)
	}
	if text, err := o.absentClass(s); err != nil || text != "7" {
		t.Error(text, err)
	}
	o, s = coverOf(t, "classes: yes")
	if code, err := o.absentCode(s); code != nil || err != nil {
		t.Error(code, err)
	}
	s.classes.legend = plan.Legend{{Code: 4, Name: "wood"}, {Code: 9, Name: "bog"}}
	s.m.WhereAbsent = &plan.Absent{IsClass: true, Class: &plan.Class{Name: "bog"}}
	if code, err := o.absentCode(s); err != nil || *code != 9 {
		t.Error(code, err)
	}
	if text, err := o.absentClass(s); err != nil || text != "9" {
		t.Error(text, err)
	}
	s.m.WhereAbsent.Class.Name = "bogg"
	var wrong plan.Problem
	if _, err := o.absentCode(s); !errors.As(err, &wrong) {
		t.Error(err)
	}
}

// TestClassesOfAMapLeftOut: a map that is not there lacks no class.
func TestClassesOfAMapLeftOut(t *testing.T) {
	_, s := coverOf(t, "optional: yes")
	s.classes.gone = true
	if codes, unknown := s.classes.codes(plan.Class{Name: "sand"}); codes != nil || unknown != nil {
		t.Error(codes, unknown)
	}
}
