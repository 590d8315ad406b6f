package runlog

import (
	"hash/crc32"
	"testing"
)

// The checksum is the published one, whatever the pieces it is taken in.
func TestSumOf(t *testing.T) {
	if got := sumOf(0, []byte("123456789")); got != 0xe3069283 { // CRC-32/ISCSI in the catalogue of parametrised CRC algorithms, from memory
		t.Errorf("%08x", got)
	}
	data := make([]byte, 20000)
	for i := range data {
		data[i] = byte(i * i >> 3)
	}
	for n := 0; n <= len(data); n = n*9/8 + 1 {
		for _, before := range []uint32{0, 0xfeed} {
			if got, want := sumOf(before, data[:n]), crc32.Update(before, castagnoli, data[:n]); got != want {
				t.Errorf("%d bytes after %x: %08x, want %08x", n, before, got, want)
			}
		}
	}
}
