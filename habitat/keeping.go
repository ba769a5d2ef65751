package habitat

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"likelyground/habitat/plan"
	"likelyground/habitat/remote"
	"likelyground/raster/store"
)

// larder is what earlier runs left for this one: their finished work, and the
// hashes of files. Without a store nothing is kept.
type larder struct {
	store   *store.Store
	hashes  *store.Hashes
	program string // what tells this program from another version of it
	say     func(string)
	anew    bool // nothing is taken from the store
	online  bool
	glance  bool // no file is read for its hash
}

// KeptFolder returns where finished work is kept from run to run: in the
// scratch folder where one is named, else in the user's cache folder. "" where
// there is neither.
func KeptFolder(scratch string) string {
	if scratch != "" {
		return filepath.Join(scratch, "likelyground-kept")
	}
	cache, err := os.UserCacheDir()
	if err != nil {
		return ""
	}
	return filepath.Join(cache, "likelyground", "kept")
}

// openLarder opens the store that the options name. Whatever is wrong with it
// is said and stops nothing.
func openLarder(o Options, say func(string)) *larder {
	l := &larder{say: say, anew: o.Anew, online: o.Online}
	if o.Kept == "" {
		return l
	}
	var err error
	if l.store, err = store.Open(o.Kept, o.KeptMost); err != nil {
		l.store = nil
		l.say(fmt.Sprintf("nothing is kept for the next run: %v", err))
		return l
	}
	l.hashes = l.store.Hashes()
	l.program, err = l.identity()
	if err != nil {
		l.store = nil
		l.say(fmt.Sprintf("nothing is kept for the next run: %v", err))
	}
	return l
}

// identity tells this program, and the libraries that results hang on, from
// other versions.
func (l *larder) identity() (string, error) {
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	h, err := l.hash(self, nil)
	v := Versions()
	return strings.Join([]string{v.Program, h.SHA256, v.Go, v.GDAL, v.PROJ, runtime.GOARCH, os.Getenv("PROJ_DATA"), os.Getenv("PROJ_LIB"), os.Getenv("GDAL_DATA")}, " "), err
}

// hash returns a file's hash, from memory where the file did not change.
func (l *larder) hash(file string, quit <-chan struct{}) (fileHash, error) {
	began := time.Now()
	before, err := store.StampOf(file)
	if err != nil {
		return fileHash{}, err
	}
	if h, ok := l.hashes.Known(before); ok {
		return h, nil
	}
	if l.glance {
		return fileHash{}, errUnread
	}
	h, err := hashFile(file, quit)
	if err == nil {
		l.hashes.Remember(file, before, began, h)
	}
	return h, err
}

// errUnread says that the hash of a file is not remembered.
var errUnread = errors.New("the file would have to be read for its hash")

// save writes down the hashes.
func (l *larder) save() {
	if l == nil || l.store == nil {
		return
	}
	if err := l.hashes.Save(); err != nil {
		l.say(err.Error())
	}
}

// hashOf returns the hash of a file that the result depends on.
func (d *desk) hashOf(file string) (fileHash, error) {
	if d.hashes != nil {
		return d.hashes.of(file)
	}
	return d.larder.hash(file, nil)
}

// contents tells the contents of files, in their order, whatever their names
// and places; false where one of them cannot be told as a whole.
func (d *desk) contents(files []string) (string, bool, error) {
	var out strings.Builder
	for _, f := range files {
		if remote.IsAddress(f) {
			return "", false, nil
		}
		h, err := d.hashOf(f)
		if err != nil {
			return "", false, err
		}
		fmt.Fprintf(&out, "%s %d %s\n", filepath.Ext(f), h.Bytes, h.SHA256)
	}
	return out.String(), true, nil
}

// howRead tells how a map's cells come to be, its files aside.
func howMapIsRead(m plan.Map) string {
	m.Name, m.Files = "", make([]plan.Path, len(m.Files))
	m.Legend, m.Match = nil, ""
	m.Year, m.Credit, m.CreditFrom, m.Licence, m.LicenceFrom, m.Share = 0, "", "", "", "", ""
	return inJSON(m)
}

// inJSON writes what JSON can write.
func inJSON(v any) string {
	data, err := json.Marshal(v)
	if err != nil {
		return fmt.Sprintf("%#v", v)
	}
	return string(data)
}

// areaKey tells the area of interest.
func (d *desk) areaKey() (string, bool, error) {
	if d.areaOf == nil {
		return "the grid", true, nil
	}
	a := *d.plan.Area
	a.File = ""
	files, whole, err := d.contents(d.origins(d.areaOf.Files()))
	return inJSON(a) + files, whole, err
}

// KeptWork is what was kept of earlier runs.
type KeptWork struct {
	Folder  string       `json:"folder"`
	Most    int64        `json:"most_bytes"` // that may be kept
	Held    int64        `json:"held_bytes"`
	Entries []store.Info `json:"entries"` // the one used last first
}

// ListKept lists what is kept in the folder that the options name.
func ListKept(o Options) (*KeptWork, error) {
	w := &KeptWork{Folder: o.Kept, Entries: []store.Info{}}
	if _, err := os.Stat(o.Kept); err != nil {
		return w, nil
	}
	s, err := store.Open(o.Kept, o.KeptMost)
	if err != nil {
		return nil, err
	}
	w.Folder, w.Most, w.Held = s.Folder(), s.Most(), s.Held()
	w.Entries = append(w.Entries, s.List()...)
	return w, nil
}

// ClearKept removes what is kept in the folder that the options name, but for
// what a run has in use, and returns how many bytes that freed and how many
// entries stay.
func ClearKept(o Options) (freed int64, inUse int, err error) {
	if _, err := os.Stat(o.Kept); err != nil {
		return 0, 0, nil
	}
	s, err := store.Open(o.Kept, o.KeptMost)
	if err != nil {
		return 0, 0, err
	}
	return s.Clear()
}
