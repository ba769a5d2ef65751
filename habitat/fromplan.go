package habitat

import (
	"path/filepath"
	"strings"
	"unicode"

	"likelyground/habitat/remote"
)

// fromPlan returns a file's path as seen from the plan's folder, wherever the
// program was started: what the account says of files depends on nothing else.
func (d *desk) fromPlan(file string) string {
	file = d.standIns.Shown(file)
	if remote.IsAddress(file) {
		return file
	}
	dir, err := filepath.Abs(d.dir)
	if err != nil {
		return file
	}
	abs, err := filepath.Abs(file)
	if err != nil {
		return file
	}
	rel, err := filepath.Rel(dir, abs)
	if err != nil {
		return file
	}
	return filepath.ToSlash(rel)
}

// wordsFromPlan returns a text with every file that the plan names written as
// seen from the plan.
func (d *desk) wordsFromPlan(text string) string {
	text = d.standIns.Shown(text)
	for _, file := range d.named() {
		if seen := d.fromPlan(file); seen != file {
			text = replacePath(text, file, seen)
		}
	}
	return text
}

// named returns the files that messages may speak of: the plan and what it
// names, as they are opened.
func (d *desk) named() []string {
	out := []string{d.file}
	if a := d.plan.Area; a != nil && !a.IsBox {
		out = append(out, d.standIns.Shown(areaFile(d.plan, d.dir)))
	}
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		if files, err := expand(d.plan, m, d.dir); err == nil {
			for _, file := range files {
				out = append(out, d.standIns.Shown(file))
			}
		}
		if s := d.sources[m.Name]; m.Index != "" && s != nil {
			out = append(out, s.files()...)
		}
	}
	return out
}

// replacePath replaces a path in a text where it is not part of a longer one.
func replacePath(text, path, with string) string {
	var b strings.Builder
	for {
		at := strings.Index(text, path)
		if at < 0 {
			b.WriteString(text)
			return b.String()
		}
		end := at + len(path)
		b.WriteString(text[:at])
		if endsInPath(text[:at]) || endsInPath(firstOf(text[end:])) {
			b.WriteString(path)
		} else {
			b.WriteString(with)
		}
		text = text[end:]
	}
}

// endsInPath reports whether the last character of a text can be part of a
// path.
func endsInPath(text string) bool {
	r := []rune(text)
	if len(r) == 0 {
		return false
	}
	last := r[len(r)-1]
	return unicode.IsLetter(last) || unicode.IsDigit(last) || strings.ContainsRune("/_-", last)
}

func firstOf(text string) string {
	for _, r := range text {
		return string(r)
	}
	return ""
}
