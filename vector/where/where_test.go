package where

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
)

// whole, real, texted and null are values of a feature.
func whole(n int64) Value   { return Value{Exact: true, Whole: n} }
func real(x float64) Value  { return Value{Number: x} }
func texted(s string) Value { return Value{Text: s} }

var null = Value{Null: true}

// holds evaluates a condition on one feature.
func holds(t *testing.T, condition string, feature map[string]Value) bool {
	t.Helper()
	c, err := Parse(condition)
	if err != nil {
		t.Fatalf("%s: %v", condition, err)
	}
	var values []Value
	for _, name := range c.Fields() {
		v, ok := feature[name]
		if !ok {
			t.Fatalf("%s: no field %s", condition, name)
		}
		values = append(values, v)
	}
	return c.Holds(values)
}

func TestHolds(t *testing.T) {
	wood := map[string]Value{
		"TYPE": texted("oak wood"), "HEIGHT": whole(12), "cover %": real(0.5), "NAME": null, "owner": texted("O'Dea"), "note": texted(""),
		"NOT": whole(1), "große": texted("Übergang"), "id": whole(1<<53 + 1), "DEPTH": whole(0), "OTHER": whole(12),
	}
	for condition, want := range map[string]bool{
		`TYPE = 'oak wood'`:                            true,
		`TYPE = 'Oak wood'`:                            false, // capitals count
		`TYPE <> 'Oak wood'`:                           true,
		`"TYPE" != 'oak wood'`:                         false,
		`HEIGHT > 11.5 AND HEIGHT<=12`:                 true,
		`HEIGHT BETWEEN 12 AND 12`:                     true,
		`HEIGHT NOT BETWEEN 5 AND 11`:                  true,
		`"cover %" = .5`:                               true,
		`"cover %" >= 5e-1 and not HEIGHT = 3`:         true,
		`HEIGHT IN (1, 2, 12)`:                         true,
		`HEIGHT NOT IN (1, 2)`:                         true,
		`NAME = 'x'`:                                   false,
		`NAME <> 'x'`:                                  false, // NULL is neither
		`NOT NAME = 'x'`:                               false,
		`NAME IS NULL`:                                 true,
		`NAME is not null`:                             false,
		`NAME NOT IN ('a')`:                            false,
		`NAME LIKE '%'`:                                false,
		`NAME = 'x' OR HEIGHT = 12`:                    true,
		`NAME = 'x' AND HEIGHT = 12`:                   false,
		`NOT (NAME = 'x' AND HEIGHT = 3)`:              true, // unknown and false is false
		`owner = 'O''Dea'`:                             true,
		`note = ''`:                                    true,
		`note < 'a'`:                                   true,
		`TYPE LIKE 'oak%'`:                             true,
		`TYPE LIKE 'Oak%'`:                             false,
		`TYPE ILIKE 'OAK W__D'`:                        true,
		`TYPE LIKE '%o%o%o%'`:                          true,
		`TYPE LIKE '%o%o%o%o%'`:                        false,
		`TYPE NOT LIKE '%beech%'`:                      true,
		`große = 'Übergang'`:                           true,
		`große ILIKE 'übergan_'`:                       true,
		`"NOT" = 1`:                                    true,
		`id = 9007199254740993`:                        true,
		`id = 9007199254740992`:                        false, // beyond what a float tells apart
		`DEPTH < 0.5 AND DEPTH > -1`:                   true,
		`HEIGHT = OTHER`:                               true,
		`HEIGHT = 3 OR HEIGHT = 12 AND TYPE = ''`:      false, // AND binds closer
		`(HEIGHT = 12 OR HEIGHT = 3) AND NAME IS NULL`: true,
	} {
		if got := holds(t, condition, wood); got != want {
			t.Errorf("%s is %v", condition, got)
		}
	}
}

// What is wrong is told with its place.
func TestWrong(t *testing.T) {
	for condition, want := range map[string]string{
		``:                                 "1: a field should stand there, not the end",
		`TYPE`:                             "5: after the field \"TYPE\"",
		`TYPE = `:                          "8: a text in single quotes or a number should stand there, not the end",
		`TYPE = 'wood`:                     "8: the quote ' is not closed",
		`TYPE == 'wood')`:                  "15: \")\" was not expected",
		`TYPE = 'a'; DROP TABLE x`:         "11: \";\" means nothing",
		`TYPE = 'a' UNION SELECT 1`:        "12: \"UNION\" was not expected",
		`1 = 1`:                            "1: a field should stand there",
		`TYPE IN (SELECT NAME)`:            "10: a text in single quotes or a number",
		`(SELECT 1) = 1`:                   "2: a field should stand there, not \"SELECT\"",
		`load_extension('x') = 1`:          "15: after the field \"load_extension\"",
		`AREA * 2 > 5`:                     "6: \"*\" means nothing",
		`'TYPE' = 'wood'`:                  "1: a field should stand there, and 'TYPE' is a text",
		`TYPE = NULL`:                      "8: nothing equals NULL",
		`TYPE LIKE 5`:                      "11: a text in single quotes should stand there",
		`A = 12abc`:                        "5: \"12abc\" is no number",
		`A = 0x10`:                         "5: \"0x10\" is no number",
		`A = 1e999`:                        "5: \"1e999\" is no number",
		`A BETWEEN 1 OR 2`:                 "13: AND should stand there, not \"OR\"",
		`A IS 5`:                           "6: NULL should stand there",
		`A IN 5`:                           "6: ( should stand there",
		strings.Repeat("(", 60) + `A = 1`:  "52: parentheses lie too deep",
		strings.Repeat("NOT ", 60) + "A=1": "205: parentheses lie too deep",
	} {
		_, err := Parse(condition)
		var e *Error
		if !errors.As(err, &e) || e.Remedy() == "" || !e.MustChange() {
			t.Errorf("%s: %v", condition, err)
			continue
		}
		if !strings.HasPrefix(fmt.Sprintf("%d: %s", e.At, e.What), want) {
			t.Errorf("%s: got %d: %s", condition, e.At, e.What)
		}
	}
}

func TestFits(t *testing.T) {
	for _, c := range []struct {
		condition string
		kinds     []Kind
		want      string
	}{
		{`A = 'x' AND B > 5`, []Kind{Text, Number}, ""},
		{`A IS NULL`, []Kind{Text}, ""},
		{`A = 5`, []Kind{Text}, `at its character 5: the field "A" holds texts, and 5 is a number`},
		{`A = 1 AND B IN (5, 'x')`, []Kind{Number, Number}, `at its character 20: the field "B" holds numbers, and 'x' is a text`},
		{`A LIKE 'x%'`, []Kind{Number}, `at its character 8: the field "A" holds numbers, and 'x%' is a text`},
		{`A = B`, []Kind{Number, Text}, `one of the fields "A" and "B" holds texts and the other numbers`},
	} {
		p, err := Parse(c.condition)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		if err := p.Fits(c.kinds); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %s", c.condition, got)
		}
	}
}

// LIKE against a plain definition: the first character decides, all ways of %
// are tried.
func slowLike(pattern, text []rune) bool {
	switch {
	case len(pattern) == 0:
		return len(text) == 0
	case pattern[0] == '%':
		for i := 0; i <= len(text); i++ {
			if slowLike(pattern[1:], text[i:]) {
				return true
			}
		}
		return false
	case len(text) == 0:
		return false
	}
	return (pattern[0] == '_' || pattern[0] == text[0]) && slowLike(pattern[1:], text[1:])
}

func TestLikeAgainstItsDefinition(t *testing.T) {
	words := func(alphabet string, longest int) []string {
		out, last := []string{""}, []string{""}
		for range longest {
			var next []string
			for _, w := range last {
				for _, r := range alphabet {
					next = append(next, w+string(r))
				}
			}
			out, last = append(out, next...), next
		}
		return out
	}
	matches := 0
	for _, pattern := range words("aé%_", 4) {
		n := like{pattern: []rune(pattern)}
		for _, text := range words("aé", 5) {
			want := slowLike([]rune(pattern), []rune(text))
			if n.matches(text) != want {
				t.Fatalf("%q LIKE %q is %v", text, pattern, !want)
			}
			if want {
				matches++
			}
		}
	}
	if matches < 1000 {
		t.Errorf("only %d matched", matches)
	}
}

// Whatever is written, reading ends with a condition or an Error, and a
// condition can be asked.
func FuzzParse(f *testing.F) {
	for _, s := range []string{`A = 'x' AND NOT (B > 5.5 OR C IS NULL)`, `"é ""q""" ILIKE '%a_'`, `A NOT IN (1,2e5)`, `((`, `A = '`, `A BETWEEN -1 AND +2`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, condition string) {
		c, err := Parse(condition)
		if err != nil {
			var e *Error
			if !errors.As(err, &e) {
				t.Fatal(err)
			}
			return
		}
		names := c.Fields()
		if len(names) == 0 || slices.Contains(names, "\x00never") {
			t.Fatalf("fields %q", names)
		}
		kinds, values := make([]Kind, len(names)), make([]Value, len(names))
		for i := range values {
			values[i] = Value{Text: "a"}
		}
		if c.Fits(kinds) == nil {
			a := c.Holds(values)
			if a != c.Holds(values) {
				t.Fatal("it changes its mind")
			}
		}
	})
}
