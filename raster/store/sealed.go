package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// errBroken says that a small file is not what was written.
var errBroken = errors.New("it is not what was written")

// writeSealed writes a value as JSON with a checksum behind it. The file
// appears whole or not at all.
func writeSealed(path string, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	data = fmt.Appendf(data, "\n%08x\n", crc32.Checksum(data, castagnoli))
	f, err := os.CreateTemp(filepath.Dir(path), "*"+partEnding)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Chmod(0o666&^umask), f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// umask is what files made by others of this program do not allow either.
const umask = 0o022

// readSealed is the inverse of writeSealed.
func readSealed(path string, v any) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	text, seal, ok := bytes.Cut(bytes.TrimSuffix(data, []byte("\n")), []byte("\n"))
	if !ok || fmt.Sprintf("%08x", crc32.Checksum(text, castagnoli)) != string(seal) {
		return fmt.Errorf("%s: %w", path, errBroken)
	}
	return json.Unmarshal(text, v)
}
