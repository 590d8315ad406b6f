package runlog

import "hash/crc32"

// callFor tells the processor that so many lines of 64 bytes, at least one, will be looked at, some way behind
// data. It does not wait for them, and nothing has to be there. It is in sum_amd64.s.
//
//go:noescape
func callFor(data *byte, skip, lines int)

// sumOf goes on with a checksum over data that is not in the cache. The checksum takes it from three places at a time,
// which memory serves badly: it is called for a page ahead, in order.
func sumOf(sum uint32, data []byte) uint32 {
	const (
		piece = 1008 // the checksum takes multiples of 504 best
		ahead = 4096
	)
	for len(data) > 0 {
		n := min(piece, len(data))
		callFor(&data[0], ahead, (n+63)/64)
		sum = crc32.Update(sum, castagnoli, data[:n])
		data = data[n:]
	}
	return sum
}
