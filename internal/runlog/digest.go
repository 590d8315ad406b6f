package runlog

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
)

// Digest is the SHA-256 of a file's stored bytes, packed as they are, in
// lower-case hexadecimal: what a run sheet names its logs by.
func Digest(path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close() //nolint:errcheck // it was only read
	h := sha256.New()
	if _, err := io.Copy(h, file); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
