// Package standin finds, for what a plan names as a map, files that can be
// opened: a file that lies there stands for itself, and what lies in an
// archive is unpacked into a scratch folder first and stands in for it.
//
// A [Desk] keeps in mind which file stands in for what, so that messages and
// accounts speak of what the plan names ([Desk.Shown]), hashes are taken of it
// ([Desk.Origin]), and a change of it is noticed ([Desk.Unchanged]). Reading
// archives is left to package unpack. Everything made lies in one folder below
// the scratch folder, until [Desk.Close].
package standin

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"likelyground/habitat/unpack"
)

// Desk makes files that stand in for others. It is not for two goroutines.
type Desk struct {
	Scratch  string                               // a folder, in which one is made when it is needed
	Progress func(what string, done, total int64) // in bytes; total 0: not known; may be nil

	folder string // within Scratch; "" until it is needed
	all    []standIn
	found  map[string][]string // by path, of what was asked for
}

// standIn is a file or folder that stands in for another, or for what lies in
// it.
type standIn struct {
	local    string // absolute
	shown    string // for people
	origin   string // the file on this machine that it is from
	size     int64  // of origin
	modified time.Time
}

// Files returns the files to open for a path: nil for one that is to be
// opened as it is. A path leads into an archive where a part of it is a file
// with an archive's ending; see [unpack.Maps] for what may follow.
func (d *Desk) Files(ctx context.Context, path string) ([]string, error) {
	archive, member, ok := unpack.Split(path)
	if !ok || d.found[path] != nil {
		return d.found[path], nil
	}
	files, err := d.unpacked(ctx, archive, member)
	if err != nil {
		return nil, err
	}
	if d.found == nil {
		d.found = map[string][]string{}
	}
	d.found[path] = files
	return files, nil
}

func (d *Desk) unpacked(ctx context.Context, archive, member string) ([]string, error) {
	info, err := os.Stat(archive)
	if err != nil {
		return nil, err
	}
	if err := d.makeFolder(); err != nil {
		return nil, err
	}
	folder := filepath.Join(d.folder, fmt.Sprint(len(d.all)+1))
	o := unpack.Options{}
	if d.Progress != nil {
		o.Progress = func(done, total int64) { d.Progress(filepath.Base(archive), done, total) }
	}
	d.all = append(d.all, standIn{folder, archive, archive, info.Size(), info.ModTime()})
	names, err := unpack.Maps(ctx, archive, member, folder, o)
	var files []string
	for _, name := range names {
		files = append(files, filepath.Join(folder, filepath.FromSlash(name)))
	}
	return files, err
}

func (d *Desk) makeFolder() error {
	if d.folder != "" {
		return nil
	}
	folder, err := os.MkdirTemp(d.Scratch, ".likelyground-maps-")
	if err != nil {
		return err
	}
	d.folder, err = filepath.Abs(folder)
	return err
}

// Close removes what was unpacked.
func (d *Desk) Close() error {
	if d.folder == "" {
		return nil
	}
	return os.RemoveAll(d.folder)
}

// Shown writes a text, or a path, with everything that stands in for
// something under the name of what it stands in for: a file in an archive is
// shown as the way into it.
func (d *Desk) Shown(text string) string {
	for _, s := range d.all {
		text = strings.ReplaceAll(text, s.local, s.shown)
	}
	return text
}

// Origin returns the file that a file stands in for; other files stand for
// themselves.
func (d *Desk) Origin(file string) string {
	for _, s := range d.all {
		if file == s.local || strings.HasPrefix(file, s.local+string(filepath.Separator)) {
			return s.origin
		}
	}
	return file
}

// ErrChanged says that a file is no longer what it was when it was read.
var ErrChanged = errors.New("the file was changed while it was being used; run again when it is at rest")

// Unchanged returns an error when a file for which others stand in changed.
func (d *Desk) Unchanged() error {
	for _, s := range d.all {
		info, err := os.Stat(s.origin)
		if err != nil {
			return err
		}
		if info.Size() != s.size || !info.ModTime().Equal(s.modified) {
			return fmt.Errorf("%s: %w", s.shown, ErrChanged)
		}
	}
	return nil
}
