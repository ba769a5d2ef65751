package plan

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// refused returns the problems of a text that is no plan.
func refused(t *testing.T, text string) Problems {
	t.Helper()
	_, err := Read("p.yaml", []byte(text))
	ps, ok := err.(Problems)
	if !ok || len(ps) == 0 {
		t.Fatalf("it is read: %.200q", text)
	}
	return ps
}

func TestBytesThatAreNoPlan(t *testing.T) {
	for text, want := range map[string]string{
		strings.Repeat("# far too long\n", 1<<17): "more than 1 MB",
		"\xff\xfef\x00":            "UTF-16",
		"format: 1\ntitle: \xe9\n": "not UTF-8",
		"format: 1\x00":            "zero bytes",
		"":                         "empty",
		" \n\n":                    "empty",
		"---\n...\n":               "empty",
	} {
		if got := refused(t, text)[0]; !strings.Contains(got.Message, want) {
			t.Errorf("%.20q: %v", text, got)
		}
	}
	if p := refused(t, "format: 1\ntitle: \xe9\n")[0]; p.Line != 2 || p.Column != 8 {
		t.Errorf("the byte that is not UTF-8 stands at 2:8, not %d:%d", p.Line, p.Column)
	}
}

// TestBounds: nesting, aliases and length that no plan needs are refused, and
// fast: the parser itself would take minutes over some of these.
func TestBounds(t *testing.T) {
	bomb := "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n"
	for i := 1; i < 9; i++ {
		bomb += fmt.Sprintf("a%d: &a%d [%s]\n", i, i, strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 10))
	}
	deep := func(open, shut string) string { return "a: " + strings.Repeat(open, 5000) + strings.Repeat(shut, 5000) }
	steps := ""
	for i := 0; i < 40; i++ {
		steps += strings.Repeat(" ", i) + "a:\n"
	}
	chain := "a0: &a0 [x]\n"
	for i := 1; i < 40; i++ {
		chain += fmt.Sprintf("a%d: &a%d [*a%d]\n", i, i, i-1)
	}
	var keys strings.Builder
	for i := 0; keys.Len() < 1<<20-100; i++ {
		fmt.Fprintf(&keys, "k%d: v\n", i)
	}
	for what, c := range map[string]struct{ text, want string }{
		"billion laughs": {bomb, "aliases"},
		"alias chain":    {chain, "levels"},
		"lists":          {deep("[", "]"), "levels"},
		"mappings":       {deep("{a: ", "}"), "levels"},
		"unclosed":       {"a: " + strings.Repeat("[", 1<<19), "levels"},
		"dashes":         {strings.Repeat("- ", 1<<19), "levels"},
		"steps":          {steps, "levels"},
		"anchors":        {"a: " + strings.Repeat("&a ", 1<<18), "levels"},
		"question marks": {strings.Repeat("? ", 1<<19), "no keys marked by ?"},
		"values":         {"a: [" + strings.Repeat("1,", 1<<18) + "1]", "words and marks"},
		"keys":           {keys.String(), "words and marks"},
	} {
		begin := time.Now()
		ps := refused(t, c.text)
		if !strings.Contains(ps[0].Message, c.want) {
			t.Errorf("%s: %v", what, ps[0])
		}
		if took := time.Since(begin); took > 20*time.Second {
			t.Errorf("%s: refused after %v", what, took)
		}
	}
}

// TestManyProblems: a long list of faults is cut short in print.
func TestManyProblems(t *testing.T) {
	text := "format: 1\n"
	for i := range 300 {
		text += fmt.Sprintf("wrong%d: 1\n", i)
	}
	ps := refused(t, text)
	if len(ps) != 303 || !strings.HasSuffix(ps.Error(), fmt.Sprintf("… and %d more", 303-maxShown)) {
		t.Errorf("%d problems, ending in %q", len(ps), ps.Error()[len(ps.Error())-40:])
	}
}

// TestPlaces: lines and columns count characters from 1, whatever the line
// ends, marks before the text and letters before the place.
func TestPlaces(t *testing.T) {
	const plan = "format: 1\ngrid: {like: gründ, colour: x}\nmaps: {\"gröund\": {file: d.tif}}\nfactors: {höhe: {from: \"gröund\", curve: {1: 1}}}\n"
	for what, text := range map[string]string{
		"plain": plan, "CRLF": strings.ReplaceAll(plan, "\n", "\r\n"), "CR": strings.ReplaceAll(plan, "\n", "\r"), "BOM": "\uFEFF" + plan,
	} {
		ps := refused(t, text)
		var got []string
		for _, p := range ps {
			got = append(got, fmt.Sprintf("%d:%d+%d", p.Line, p.Column, p.Length))
		}
		if strings.Join(got, " ") != "2:14+5 2:21+6" {
			t.Errorf("%s: %v", what, got)
		}
	}
	ps := refused(t, "format:\t\t2\ngrid: {like:   \"a\"}\nmaps: {a: {file: x.tif}}\nfactors: {b: {from: a, curve: {1: 1}}}\n")
	if ps[0].Column != 10 {
		t.Errorf("behind tabs: %v", ps[0])
	}
}

// TestScalars: what a bare word of YAML is to a plan.
func TestScalars(t *testing.T) {
	for text, want := range map[string]float64{"2": 2, "010": 10, "1e3": 1000, ".5": 0.5, "1.": 1, "+1.5": 1.5, "-0": 0, "1E-2": 0.01} {
		p := read(t, strings.Replace(small, "unit: m", "offset: "+text, 1))
		if m, _ := p.Map("ground"); *m.Offset != want {
			t.Errorf("%s is read as %v", text, *m.Offset)
		}
	}
	for _, text := range []string{"'2'", "\"2\"", "0x1F", "1_000", ".inf", ".nan", "NaN", "1,5", "2 m", "1e400", "yes", "~", "|\n   2"} {
		refused(t, strings.Replace(small, "ground: {file: dem.tif, unit: m}", "ground:\n    file: dem.tif\n    offset: "+text, 1))
	}
	for text, want := range map[string]bool{"yes": true, "true": true, "no": false, "false": false} {
		p := read(t, strings.Replace(small, "others: 0", "must: "+text+", others: 0", 1))
		if p.Factors[1].Must != want {
			t.Errorf("%s is read as %v", text, p.Factors[1].Must)
		}
	}
	for _, text := range []string{"'yes'", "Yes", "on", "1", "True"} {
		refused(t, strings.Replace(small, "others: 0", "must: "+text+", others: 0", 1))
	}
}

// TestSafeToPrint: nothing of a plan reaches a terminal as a control
// character.
func TestSafeToPrint(t *testing.T) {
	ps := refused(t, "format: 1\n\x1b[31mred\x07: \"\u202edlo\"\ngrid: {like: \"\\e[2J\"}\nmaps: {g: {file: x}}\nfactors: {f: {from: \"\\a\", curve: {1: 1}}}\n")
	if text := ps.Error(); strings.ContainsAny(text, "\x1b\x07\u202e") {
		t.Errorf("%q", text)
	}
}
