//go:build !amd64

package runlog

import "hash/crc32"

// sumOf goes on with a checksum over data that is not in the cache. The checksum takes it from three places at a time,
// which memory serves a quarter slower than fetching it and then the checksum.
func sumOf(sum uint32, data []byte) uint32 {
	fetch(data)
	return crc32.Update(sum, castagnoli, data)
}

// fetch brings data into the cache.
//
//go:noinline
func fetch(data []byte) (all byte) {
	const line = 64 // bytes that come at once
	for ; len(data) > line; data = data[line:] {
		all |= data[0]
	}
	return all
}
