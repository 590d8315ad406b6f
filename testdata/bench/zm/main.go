package main

import (
	"fmt"
	"hash/crc32"
	"math"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"
	"unsafe"
)

var sink uint64

//go:noinline
func touch(b []byte) uint64 {
	v := unsafe.Slice((*uint64)(unsafe.Pointer(&b[0])), len(b)/8)
	var s, u uint64
	for i := 0; i+16 <= len(v); i += 16 {
		s += v[i]
		u += v[i+8]
	}
	return s + u
}

func main() {
	files, _ := filepath.Glob(os.Args[1] + "/cache/reader-2/*/*.arrow")
	var maps [][]byte
	for _, f := range files {
		file, _ := os.Open(f)
		st, _ := file.Stat()
		data, err := syscall.Mmap(int(file.Fd()), 0, int(st.Size()), syscall.PROT_READ, syscall.MAP_SHARED)
		if err != nil {
			panic(err)
		}
		syscall.Madvise(data, 22)
		maps = append(maps, data[:len(data)/16384*16384])
	}
	tab := crc32.MakeTable(crc32.Castagnoli)
	both := func(what string, cores int, f func(b []byte)) {
		best := time.Hour
		for range 7 {
			t := time.Now()
			var wg sync.WaitGroup
			for k := range cores {
				wg.Go(func() {
					for _, m := range maps {
						half := m[k*len(m)/cores/16384*16384:][:len(m)/cores/16384*16384]
						for i := 0; i < len(half); i += 16384 {
							f(half[i : i+16384])
						}
					}
				})
			}
			wg.Wait()
			best = min(best, time.Since(t))
		}
		fmt.Println(what, cores, best, float64(len(maps)*len(maps[0]))/best.Seconds()/1e9, "GB/s")
	}
	for cores := 1; cores <= 2; cores++ {
		both("crc", cores, func(b []byte) { crc32.Checksum(b, tab) })
		both("touch", cores, func(b []byte) { touch(b) })
		both("touch+crc", cores, func(b []byte) { touch(b); crc32.Checksum(b, tab) })
		both("less", cores, func(b []byte) {
			var bits [32]uint64
			lessConst(bits[:], unsafe.Slice((*float64)(unsafe.Pointer(&b[0])), 2048), 3000)
		})
		both("touch+less", cores, func(b []byte) {
			var bits [32]uint64
			touch(b)
			lessConst(bits[:], unsafe.Slice((*float64)(unsafe.Pointer(&b[0])), 2048), 3000)
		})
		both("crc+less", cores, func(b []byte) {
			var bits [32]uint64
			crc32.Checksum(b, tab)
			lessConst(bits[:], unsafe.Slice((*float64)(unsafe.Pointer(&b[0])), 2048), 3000)
		})
	}
}

const signBit = 1 << 63

func gather(a, b, c, d uint64) uint64 {
	return a>>48 | b>>48<<16 | c>>48<<32 | d>>48<<48
}

func lessConst(dst []uint64, a []float64, c float64) {
	w := 0
	for ; len(a) >= 64; w++ {
		s := (*[64]float64)(a)
		var p, q, r, t uint64
		for i := range 16 {
			p = p>>1 | math.Float64bits(s[i]-c)&signBit
			q = q>>1 | math.Float64bits(s[i+16]-c)&signBit
			r = r>>1 | math.Float64bits(s[i+32]-c)&signBit
			t = t>>1 | math.Float64bits(s[i+48]-c)&signBit
		}
		dst[w] = gather(p, q, r, t)
		a = a[64:]
	}
}
