// Package publish puts the outputs of a run into their folder so that nothing
// carries its final name until everything is whole.
//
// All files are first made in a hidden folder beside the output folder, on
// the same file system. When all are complete and synced, the account of the
// run leaves the output folder, the files are renamed into it, and the new
// account comes last. A run cut off while renaming leaves a hidden folder
// marked whole; the next run finishes it. While a [Folder] is open no other
// process can open it.
package publish

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// Account is the name of the account of the run, the file that ties the
// others together.
const Account = "run.json"

// wholeMark is the file that says that all others in the hidden folder are
// complete. It lists them.
const wholeMark = "whole"

// ErrBusy is returned by [Open] when another run works on the same folder.
var ErrBusy = errors.New("another run is writing to this folder")

// holderName is the file of the hidden folder that says who holds it.
const holderName = "holder"

// busy is [ErrBusy] for a folder; trying again later helps.
type busy struct{ dir, holder string }

func (b busy) Error() string  { return b.dir + ": " + ErrBusy.Error() + b.holder }
func (b busy) Remedy() string { return "wait until it is done, or name another folder with --out" }
func (b busy) Unwrap() error  { return ErrBusy }

// Refusal is an output folder that must not be touched, or cannot be used.
type Refusal struct{ What, Fix string }

func (r *Refusal) Error() string    { return r.What }
func (r *Refusal) Remedy() string   { return r.Fix }
func (r *Refusal) MustChange() bool { return true }

// Folder is an output folder with its hidden folder, held for one run.
type Folder struct {
	named  string // may lead over symbolic links
	dir    string // without them
	hidden string
	lock   *os.File
	made   []string // folders above both that were not there before, deepest first
}

// Open takes hold of an output folder. The folder itself need not exist; its
// hidden neighbour is made. A publication that was cut off is finished first.
// Errors: a [Refusal] if dir is not a folder or cannot be written, [ErrBusy],
// or an error of the file system.
func Open(dir string) (*Folder, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	info, err := os.Stat(dir)
	if err == nil && !info.IsDir() {
		return nil, &Refusal{fmt.Sprintf("the output folder %s is a file", dir), "name another folder with --out"}
	}
	if _, there := os.Lstat(dir); there == nil && errors.Is(err, fs.ErrNotExist) {
		return nil, &Refusal{fmt.Sprintf("the output folder %s is a link that leads nowhere", dir), "make the folder that it leads to, or name another one with --out"}
	}
	named := dir
	if real, err := filepath.EvalSymlinks(dir); err == nil {
		dir = real // a rename must not cross into another file system
	}
	f := &Folder{named: named, dir: dir, hidden: filepath.Join(filepath.Dir(dir), "."+filepath.Base(dir)+".making")}
	if err := f.hold(); err != nil {
		return nil, err
	}
	if err := f.recover(); err != nil {
		f.Abandon()
		return nil, err
	}
	f.sign()
	return f, nil
}

// sign leaves word of who holds the folder, and since when, for others that
// want it. The lock alone counts, so that it does no harm when it fails.
func (f *Folder) sign() {
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	text := fmt.Sprintf("process %d on %s, since %s", os.Getpid(), host, time.Now().Format("2006-01-02 15:04:05"))
	os.WriteFile(filepath.Join(f.hidden, holderName), []byte(text), 0o666)
}

// holder returns who holds the folder, as far as is known.
func (f *Folder) holder() string {
	data, err := os.ReadFile(filepath.Join(f.hidden, holderName))
	if err != nil || len(data) == 0 || len(data) > 400 {
		return ""
	}
	return " (" + string(data) + ")"
}

// absent returns which of the folders above a path are not there, deepest
// first.
func absent(path string) []string {
	var out []string
	for {
		path = filepath.Dir(path)
		if _, err := os.Lstat(path); err == nil || path == filepath.Dir(path) {
			return out
		}
		out = append(out, path)
	}
}

// hold makes the hidden folder and locks it. Another run may remove the
// folder between the two steps; then both are done again.
func (f *Folder) hold() error {
	f.made = absent(f.hidden)
	for {
		if err := os.MkdirAll(f.hidden, 0o777); err != nil {
			return unwritable(f.dir, err)
		}
		lock, err := openFolder(f.hidden)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if errors.Is(err, syscall.ELOOP) || errors.Is(err, syscall.ENOTDIR) {
			return &Refusal{fmt.Sprintf("%s is not a folder of this program's own", f.hidden), "remove it, or name another folder with --out"}
		}
		if err != nil {
			return unwritable(f.dir, err)
		}
		if err := unix.Flock(int(lock.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
			lock.Close()
			if errors.Is(err, unix.EWOULDBLOCK) {
				return busy{f.dir, f.holder()}
			}
			return fmt.Errorf("cannot lock %s: %w", f.hidden, err)
		}
		mine, err1 := lock.Stat()
		there, err2 := os.Stat(f.hidden)
		if err1 == nil && err2 == nil && os.SameFile(mine, there) {
			f.lock = lock
			return f.writable()
		}
		lock.Close()
	}
}

// openFolder opens a folder that is no symbolic link: what the hidden folder
// holds is removed, so it must not lead elsewhere.
func openFolder(dir string) (*os.File, error) {
	return os.OpenFile(dir, os.O_RDONLY|syscall.O_DIRECTORY|syscall.O_NOFOLLOW, 0)
}

// writable finds out, before any work, whether files can be put into both
// folders.
func (f *Folder) writable() error {
	var out, hidden unix.Stat_t
	if unix.Stat(f.dir, &out) != nil {
		return nil // it is made at the end
	}
	if err := unix.Access(f.dir, unix.W_OK|unix.X_OK); err != nil {
		f.Abandon()
		return unwritable(f.dir, err)
	}
	if err := unix.Stat(f.hidden, &hidden); err == nil && out.Dev != hidden.Dev {
		f.Abandon()
		return &Refusal{fmt.Sprintf("the output folder %s is a file system of its own, which finished files cannot be moved into whole", f.dir),
			fmt.Sprintf("name a folder inside it, such as --out %s", filepath.Join(f.dir, "out"))}
	}
	return nil
}

func unwritable(dir string, err error) error {
	for _, e := range []error{fs.ErrPermission, syscall.EROFS, syscall.ENOTDIR, fs.ErrNotExist} {
		if errors.Is(err, e) {
			return &Refusal{fmt.Sprintf("the output folder %s cannot be written: %v", dir, err), "name another folder with --out, or change its permissions"}
		}
	}
	return fmt.Errorf("cannot make a folder for the outputs beside %s: %w", dir, err)
}

// recover finishes a publication that was cut off, or clears away what a run
// that was cut off earlier left behind.
func (f *Folder) recover() error {
	names, err := readMark(filepath.Join(f.hidden, wholeMark))
	if err == nil {
		return f.moveAll(names)
	}
	return f.clear()
}

// readMark reads the list of a hidden folder. Folders are handed on with what
// is hidden in them, so a list that names anything but plain files is no list
// of ours.
func readMark(file string) (names []string, err error) {
	data, err := os.ReadFile(file)
	if err == nil {
		err = json.Unmarshal(data, &names)
	}
	for _, n := range names {
		if n = strings.TrimPrefix(n, "-"); n == "" || n == "." || n == ".." || n != filepath.Base(n) {
			return nil, fmt.Errorf("%s names %q, which is no output", file, n)
		}
	}
	return names, err
}

// clear removes everything from the hidden folder.
func (f *Folder) clear() error {
	entries, err := os.ReadDir(f.hidden)
	for _, e := range entries {
		err = errors.Join(err, os.RemoveAll(filepath.Join(f.hidden, e.Name())))
	}
	return err
}

// Dir returns the output folder as it was named, as an absolute path.
func (f *Folder) Dir() string { return f.named }

// Scratch returns the hidden folder: the place for outputs that are not
// finished yet and for what is needed to make them.
func (f *Folder) Scratch() string { return f.hidden }

// Account returns the account of the run that the folder holds, nil if none.
func (f *Folder) Account() ([]byte, error) {
	data, err := os.ReadFile(filepath.Join(f.dir, Account))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return data, err
}

// Existing returns which of the given names the output folder holds.
func (f *Folder) Existing(names []string) []string {
	var found []string
	for _, n := range names {
		if _, err := os.Lstat(filepath.Join(f.dir, n)); err == nil {
			found = append(found, n)
		}
	}
	return found
}

// Create makes a file of the hidden folder, which [Folder.Publish] will move
// under the same name. The write is complete only when Close of the returned
// file has returned nil: it syncs.
func (f *Folder) Create(name string) (*File, error) {
	file, err := os.OpenFile(filepath.Join(f.hidden, name), os.O_RDWR|os.O_CREATE|os.O_TRUNC, 0o666)
	return &File{file}, err
}

// File is an output being written.
type File struct{ *os.File }

// Close syncs the file to the disk and closes it.
func (f *File) Close() error { return errors.Join(f.File.Sync(), f.File.Close()) }

// Publish moves the named files, which must be complete, into the output
// folder, the account last, and removes the outputs that are stale. It then
// lets go of the folder.
func (f *Folder) Publish(names, stale []string) error {
	for _, n := range stale {
		if !slices.Contains(names, n) {
			names = append(names, "-"+n)
		}
	}
	data, err := json.Marshal(names)
	if err != nil {
		return err
	}
	if err := f.mark(data); err != nil {
		return err
	}
	if err := f.moveAll(names); err != nil {
		return err
	}
	f.Abandon()
	return nil
}

// mark writes the list that says that everything is whole.
func (f *Folder) mark(list []byte) error {
	part := filepath.Join(f.hidden, wholeMark+".part")
	file, err := os.Create(part)
	if err != nil {
		return err
	}
	_, err = file.Write(list)
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return err
	}
	if err := os.Rename(part, filepath.Join(f.hidden, wholeMark)); err != nil {
		return err
	}
	return syncFolder(f.hidden)
}

// moveAll renames what is still in the hidden folder. It may be called again
// after having been cut off anywhere.
func (f *Folder) moveAll(names []string) error {
	if err := os.MkdirAll(f.dir, 0o777); err != nil {
		return unwritable(f.dir, err)
	}
	_, err := os.Lstat(filepath.Join(f.hidden, Account))
	if err == nil { // else the account has been moved: all has
		if err := remove(filepath.Join(f.dir, Account)); err != nil {
			return err
		}
		if err := syncFolder(f.dir); err != nil {
			return err
		}
	}
	for _, n := range names {
		if err := f.move(n); err != nil {
			return err
		}
	}
	if err := syncFolder(f.dir); err != nil {
		return err
	}
	if err := f.move(Account); err != nil {
		return err
	}
	return errors.Join(syncFolder(f.dir), f.clear())
}

// move brings one file to its final name; a name that begins with "-" is a
// stale output to remove.
func (f *Folder) move(name string) error {
	if name[0] == '-' {
		return remove(filepath.Join(f.dir, name[1:]))
	}
	if name == Account {
		if _, err := os.Lstat(filepath.Join(f.hidden, name)); err != nil {
			return ignoreMissing(err)
		}
	}
	return ignoreMissing(os.Rename(filepath.Join(f.hidden, name), filepath.Join(f.dir, name)))
}

func remove(file string) error { return ignoreMissing(os.Remove(file)) }

func ignoreMissing(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// Abandon removes the hidden folder, and the folders above it that were made
// for it and hold nothing, and lets go of the output folder, which stays as it
// was. Calling it again does nothing.
func (f *Folder) Abandon() {
	if f.lock == nil {
		return
	}
	os.RemoveAll(f.hidden)
	for _, dir := range f.made {
		os.Remove(dir) // fails where something is in it
	}
	f.lock.Close()
	f.lock = nil
}
