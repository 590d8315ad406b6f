package runlog

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Stored is a log as it lies on disk.
type Stored struct {
	Path   string
	SHA256 string // of its bytes, lower-case hexadecimal

	mark fileMark // of the bytes that were hashed
}

// fileMark tells whether a file is still what it was: while size, times and
// inode stay, so do the bytes.
type fileMark struct {
	Size     int64
	Modified int64 // ns
	Changed  int64 // ns; 0 where the system does not tell
	File     string
}

// markOf is the mark of a file; ok is false for what is no plain file.
func markOf(path string) (m fileMark, ok bool) {
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() {
		return fileMark{}, false
	}
	m = fileMark{Size: info.Size(), Modified: info.ModTime().UnixNano()}
	m.File, m.Changed = fileIdentity(path, info)
	return m, m.File != ""
}

// unchanged says that the file still is what was hashed.
func (s Stored) unchanged() bool {
	now, ok := markOf(s.Path)
	return ok && now == s.mark
}

// digestEntry is what the index knows of one file.
type digestEntry struct {
	Mark   fileMark
	SHA256 string
}

// settled is how long a file must have been left alone before its times can
// tell whether it was written to again: clocks of file systems are coarse.
const settled = 2 * time.Second

// Digest gives the digest of a log's bytes. A file whose size, times and inode
// are as they were is not read again unless rehash says so.
func (c *Cache) Digest(path string, rehash bool) (Stored, error) {
	mark, plain := markOf(path)
	entry := ""
	if c != nil && plain {
		entry = c.digestFile(mark)
		if sum, ok := loadDigest(entry, mark); ok && !rehash {
			return Stored{path, sum, mark}, nil
		}
	}
	sum, err := Digest(path)
	if err != nil {
		return Stored{}, err
	}
	s := Stored{path, sum, mark}
	if entry != "" && s.unchanged() && time.Since(time.Unix(0, max(mark.Modified, mark.Changed))) > settled {
		if err := saveDigest(entry, digestEntry{mark, sum}); err != nil {
			c.fault(err)
		}
	}
	return s, nil
}

// digestFile is the index's file for a log.
func (c *Cache) digestFile(m fileMark) string {
	sum := sha256.Sum256([]byte(m.File))
	return filepath.Join(c.folder, "digests", hex.EncodeToString(sum[:16])+".json")
}

func loadDigest(path string, mark fileMark) (sum string, ok bool) {
	data, err := os.ReadFile(path)
	if err != nil {
		return "", false
	}
	first, text, _ := strings.Cut(string(data), "\n")
	var e digestEntry
	if first+"\n" != sumLine([]byte(text)) || json.Unmarshal([]byte(text), &e) != nil {
		_ = os.Remove(path)
		return "", false
	}
	if e.Mark != mark {
		return "", false
	}
	_ = used(path)
	return e.SHA256, true
}

func saveDigest(path string, e digestEntry) error {
	text, err := json.Marshal(e)
	if err != nil {
		return err
	}
	return writeWhole(path, func(file *os.File) error {
		_, err := fmt.Fprintf(file, "%s%s", sumLine(text), text)
		return err
	})
}
