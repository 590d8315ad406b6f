package pluginhost

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"
	"runtime"

	"google.golang.org/protobuf/proto"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// Platform is what programs on this machine are built for, as admitted.yaml names it.
func Platform() string { return runtime.GOOS + "-" + runtime.GOARCH }

// Store keeps admitted programs of this machine by their SHA-256, each with what it described.
type Store struct{ folder string }

// NewStore is the store of this user.
func NewStore() (*Store, error) {
	cache, err := os.UserCacheDir()
	if err != nil {
		return nil, err
	}
	return &Store{filepath.Join(cache, "paintmark", "plugins")}, nil
}

// Program is where a program is kept; ok is false where it is not on this machine. Whoever
// runs it still holds its bytes to the digest.
func (s *Store) Program(sum string) (path string, ok bool) {
	path = filepath.Join(s.folder, filepath.Base(sum))
	_, err := os.Stat(path)
	return path, err == nil
}

// Add takes a program in and gives its SHA-256.
func (s *Store) Add(file string) (sum string, err error) {
	if err := os.MkdirAll(s.folder, 0o700); err != nil {
		return "", err
	}
	from, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer func() { _ = from.Close() }()
	to, err := os.CreateTemp(s.folder, "new-")
	if err != nil {
		return "", err
	}
	defer func() { _ = os.Remove(to.Name()) }() // nothing is left where it was renamed
	hash := sha256.New()
	_, err = io.Copy(io.MultiWriter(to, hash), from)
	if closed := to.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return "", err
	}
	sum = hex.EncodeToString(hash.Sum(nil))
	return sum, os.Rename(to.Name(), filepath.Join(s.folder, sum))
}

// Description is what a program described when it was last asked; nil where that is not known.
func (s *Store) Description(sum string) *pluginv1.Description {
	data, err := os.ReadFile(filepath.Join(s.folder, filepath.Base(sum)+".description"))
	if err != nil {
		return nil
	}
	d := &pluginv1.Description{}
	if proto.Unmarshal(data, d) != nil || Sound(d) != nil {
		return nil
	}
	return d
}

// Keep keeps what a program described, so that it need not be started to be listed.
func (s *Store) Keep(sum string, d *pluginv1.Description) error {
	data, err := proto.MarshalOptions{Deterministic: true}.Marshal(d)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(s.folder, 0o700); err != nil {
		return err
	}
	name := filepath.Join(s.folder, filepath.Base(sum)+".description")
	if err := os.WriteFile(name+".new", data, 0o600); err != nil {
		return err
	}
	return os.Rename(name+".new", name)
}
