// Package standin finds, for what a plan names as a map, files that can be
// opened: a file that lies there stands for itself, what lies in an archive is
// unpacked into a scratch folder first, and of what lies on the network a copy
// is kept; those stand in for it.
//
// A [Desk] keeps in mind which file stands in for what, so that messages and
// accounts speak of what the plan names ([Desk.Shown]), hashes are taken of it
// ([Desk.Origin]), and a change of it is noticed ([Desk.Unchanged]). Reading
// archives is left to package unpack, the network to package remote. What is
// unpacked lies in one folder below the scratch folder, until [Desk.Close].
package standin

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"likelyground/habitat/remote"
	"likelyground/habitat/unpack"
	"likelyground/raster/maps"
)

// Desk makes files that stand in for others. It is not for two goroutines.
type Desk struct {
	Scratch  string                               // a folder, in which one is made when it is needed
	Remote   *remote.Store                        // copies of maps on the network; nil: there are none
	Progress func(what string, done, total int64) // in bytes; total 0: not known; may be nil

	folder string // within Scratch; "" until it is needed
	all    []standIn
	found  map[string][]string // by path, of what was asked for
	copies []remote.Copy
	kept   map[string]string // by address, the file of its copy
}

// standIn is a file or folder that stands in for another, or for what lies in
// it.
type standIn struct {
	local    string // absolute
	shown    string // for people
	origin   string // the file on this machine that it is from
	size     int64  // of origin
	modified time.Time
	done     func() // frees it; nil where there is nothing to free
	far      bool   // no file of this machine stands behind it
}

// Files returns the files to open for a path or an address: nil for a path
// that is to be opened as it is. A path leads into an archive where a part of
// it is a file with an archive's ending, an address where that part has the
// ending; see [unpack.Maps] for what may follow.
func (d *Desk) Files(ctx context.Context, path string) ([]string, error) {
	if d.found[path] != nil {
		return d.found[path], nil
	}
	files, err := d.find(ctx, path)
	if err != nil || files == nil {
		return nil, err
	}
	if d.found == nil {
		d.found = map[string][]string{}
	}
	d.found[path] = files
	return files, nil
}

func (d *Desk) find(ctx context.Context, path string) ([]string, error) {
	if !remote.IsAddress(path) {
		if archive, member, ok := unpack.Split(path); ok {
			return d.unpacked(ctx, archive, member)
		}
		return nil, nil
	}
	address, member := remote.Split(path, unpack.Ending)
	file, err := d.fetched(ctx, address)
	if err != nil || unpack.Ending(file) == "" {
		return []string{file}, err
	}
	return d.unpacked(ctx, file, member)
}

// fetched returns the copy of a map on the network.
func (d *Desk) fetched(ctx context.Context, address string) (string, error) {
	if file, ok := d.kept[address]; ok {
		return file, nil
	}
	if d.Remote == nil {
		return "", &remote.Problem{Address: address, What: "maps on the network are not read here", Fix: "fetch the map and name the file"}
	}
	c, err := d.Remote.Get(ctx, address)
	if err != nil {
		return "", err
	}
	local, err := filepath.Abs(c.File)
	if err != nil {
		return "", err
	}
	if d.kept == nil {
		d.kept = map[string]string{}
	}
	s := standIn{local: local, shown: address, origin: local, size: c.Bytes, modified: c.Stamp}
	if c.InPieces {
		if s.local, s.done, err = d.lend(ctx, c); err != nil {
			return "", err
		}
		s.origin, s.far = address, true
	}
	d.kept[address] = s.local
	d.copies = append(d.copies, *c)
	d.all = append(d.all, s)
	return s.local, nil
}

// lend makes a map in pieces readable.
func (d *Desk) lend(ctx context.Context, c *remote.Copy) (file string, done func(), err error) {
	pieces, err := d.Remote.Open(ctx, c)
	if err != nil {
		return "", nil, err
	}
	file, giveBack, err := maps.Lend(filepath.Base(c.File), pieces)
	if err != nil {
		return "", nil, errors.Join(err, pieces.Close())
	}
	return file, func() {
		giveBack()
		pieces.Close()
	}, nil
}

// Copies returns the copies of maps on the network that are in use.
func (d *Desk) Copies() []remote.Copy { return d.copies }

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
	d.all = append(d.all, standIn{local: folder, shown: d.Shown(archive), origin: archive, size: info.Size(), modified: info.ModTime()})
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

// Close removes what was unpacked, and frees what was opened.
func (d *Desk) Close() error {
	for _, s := range d.all {
		if s.done != nil {
			s.done()
		}
	}
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

// Origin returns the file that a file stands in for, or the address of a map
// that is kept in pieces; other files stand for themselves.
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
		if s.far { // its reader watches
			continue
		}
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
