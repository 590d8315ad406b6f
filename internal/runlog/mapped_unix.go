//go:build unix

package runlog

import (
	"io"
	"os"
	"syscall"
)

// leastMapped is the size from which on a file is mapped: a process may not have
// too many, and reading a small one costs no more.
const leastMapped = 256 << 10

// mapFile maps a file into memory, to be read only. It stays mapped until the
// process ends: nobody knows who still looks at a column.
func mapFile(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close() //nolint:errcheck // it was only read
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	if info.Size() == 0 || !info.Mode().IsRegular() {
		return nil, errDamaged
	}
	if info.Size() < leastMapped {
		data := make([]byte, info.Size())
		_, err := io.ReadFull(file, data)
		return data, err
	}
	return syscall.Mmap(int(file.Fd()), 0, int(info.Size()), syscall.PROT_READ, syscall.MAP_SHARED)
}

func unmap(data []byte) error {
	if len(data) < leastMapped {
		return nil
	}
	return syscall.Munmap(data)
}

// mapText maps a log's text, to be read only; nil where that cannot be done.
func mapText(file *os.File, size int64) []byte {
	data, err := syscall.Mmap(int(file.Fd()), 0, int(size), syscall.PROT_READ, syscall.MAP_SHARED)
	if err != nil {
		return nil
	}
	return data
}

func (t *text) unmap() {
	if t.mapped != nil {
		_ = syscall.Munmap(t.mapped)
	}
}
