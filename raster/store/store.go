// Package store keeps finished work from run to run: layers that took long to
// make, maps that were written anew so that they are read faster, and the
// hashes of files.
//
// Work is kept as entries. An entry has files, and is known by what it depends
// on: [About] names each thing by a text (the hash of a map, the grid, the
// version of the program), and the entry is found again as long as none of
// them changes. It appears whole or not at all: its files are made in a folder
// of their own, which is then renamed. Every file carries checksums, so that
// what was cut short or changed on the disk since is found out on opening
// ([Damage]), and is thrown away.
//
// All of a store together takes a bounded part of the disk. Where there is no
// room for a new entry, those that were not used for the longest time go;
// never one that some process has open. Processes may share a store. One that
// is killed leaves nothing that stays: what it was making is removed by the
// next that opens the store.
//
// What the files hold is left to others. Sizes are in bytes. The store is on
// one machine's file system; locks are flock's.
package store

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"golang.org/x/sys/unix"
)

// Names within a store's folder.
const (
	doneFolder   = "done"   // an entry each, by its key
	makingFolder = "making" // what is not whole yet, or about to be removed
	hashesFile   = "hashes"
)

// Store is a folder of finished work. Its methods may be called by several
// goroutines at once.
type Store struct {
	folder string
	most   int64
}

// Open opens a store, making its folder where there is none. most bounds what
// all entries together may take; 0 means half of what is free on the disk
// together with what the store holds already. What killed processes left
// unfinished is removed.
func Open(folder string, most int64) (*Store, error) {
	folder, err := filepath.Abs(folder)
	if err != nil {
		return nil, err
	}
	s := &Store{folder: folder, most: most}
	for _, dir := range []string{doneFolder, makingFolder} {
		if err := os.MkdirAll(filepath.Join(folder, dir), 0o777); err != nil {
			return nil, fmt.Errorf("make a folder for finished work: %w", err)
		}
	}
	s.sweep()
	return s, nil
}

// Folder returns where the store lies.
func (s *Store) Folder() string { return s.folder }

func (s *Store) done(key string) string { return filepath.Join(s.folder, doneFolder, key) }

// sweep removes what is being made by nobody any more.
func (s *Store) sweep() {
	parts, _ := os.ReadDir(filepath.Join(s.folder, makingFolder))
	for _, p := range parts {
		path := filepath.Join(s.folder, makingFolder, p.Name())
		if hold, err := lock(path, unix.LOCK_EX); err == nil {
			removeOwn(path)
			hold.Close()
		}
	}
}

// errInUse says that another process holds what is to be locked.
var errInUse = errors.New("it is in use")

// lock opens a folder and locks it, shared or not; errInUse where that is not
// possible at once. Closing what is returned unlocks. A folder that was
// renamed or removed meanwhile is fs.ErrNotExist.
func lock(path string, how int) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_DIRECTORY|syscall.O_NOFOLLOW, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.Flock(int(f.Fd()), how|unix.LOCK_NB); err != nil {
		f.Close()
		if errors.Is(err, unix.EWOULDBLOCK) {
			return nil, errInUse
		}
		return nil, err
	}
	held, err1 := f.Stat()
	there, err2 := os.Lstat(path)
	if err1 != nil || err2 != nil || !os.SameFile(held, there) {
		f.Close()
		return nil, fs.ErrNotExist
	}
	return f, nil
}

// removeOwn removes a folder with those files in it that a store writes, and
// returns an error where something else is in it.
func removeOwn(path string) error {
	parts, err := os.ReadDir(path)
	for _, p := range parts {
		if name := p.Name(); ours(name) {
			err = errors.Join(err, ignoreMissing(os.Remove(filepath.Join(path, name))))
		}
	}
	return errors.Join(err, ignoreMissing(os.Remove(path)))
}

// makingPlace makes a new folder for what is not whole, locked.
func (s *Store) makingPlace() (path string, hold *os.File, err error) {
	path = filepath.Join(s.folder, makingFolder, rand.Text())
	for { // another process may sweep it away before it is locked
		if err := os.Mkdir(path, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
			return "", nil, fmt.Errorf("make room for finished work: %w", err)
		}
		hold, err = lock(path, unix.LOCK_EX)
		if err == nil || !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, errInUse) {
			return path, hold, err
		}
	}
}

func ignoreMissing(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
