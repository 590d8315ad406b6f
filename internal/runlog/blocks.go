package runlog

import (
	"encoding/base64"
	"encoding/binary"
	"hash/crc32"
	"math"
	"math/bits"
	"slices"

	"github.com/paintmark/paintmark/internal/kernel"
)

// blockSamples is how many own samples of a column are summed up, and may be
// passed over, at a time. It is a multiple of 64.
const blockSamples = kernel.ZoneSamples

// blockSum is what is known of a block of own samples.
type blockSum struct {
	least, most float64 // of those that carry a number; +Inf and -Inf where none does
	bad         uint32  // how many carry none
	sum         uint32  // CRC-32C of their bytes and of their rows'
}

// summed gives the blocks of a column, worked out where they are not known.
func (c *Column) summed() []blockSum {
	if c.blocks == nil {
		c.blocks = make([]blockSum, (len(c.Values)+blockSamples-1)/blockSamples)
		for i := range c.blocks {
			c.blocks[i] = c.sumUp(i)
			c.blocks[i].sum = c.checksum(i)
		}
	}
	return c.blocks
}

// span is which own samples are in block i.
func (c *Column) span(i int) (from, to int) {
	return i * blockSamples, min((i+1)*blockSamples, len(c.Values))
}

// whole says that every sample of block i is a number.
func (c *Column) whole(i int) bool {
	if c.Bad == nil {
		return true
	}
	from, to := c.span(i)
	return noneSet(c.Bad[from/64 : (to+63)/64])
}

func noneSet(m []uint64) bool {
	return !slices.ContainsFunc(m, func(word uint64) bool { return word != 0 })
}

// sumUp looks through block i.
func (c *Column) sumUp(i int) blockSum {
	from, to := c.span(i)
	b := blockSum{least: math.Inf(1), most: math.Inf(-1)}
	if c.Bad != nil {
		for _, word := range c.Bad[from/64 : (to+63)/64] {
			b.bad += uint32(bits.OnesCount64(word))
		}
	}
	if b.bad == 0 {
		b.least, b.most = extremes(c.Values[from:to])
		return b
	}
	for k := from; k < to; k++ {
		if !c.IsBad(k) {
			b.least, b.most = min(b.least, c.Values[k]), max(b.most, c.Values[k])
		}
	}
	return b
}

// extremes are the least and the greatest of some finite numbers, four at a time.
func extremes(values []float64) (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	if len(values) >= 8 {
		l0, l1, l2, l3 := values[0], values[1], values[2], values[3]
		m0, m1, m2, m3 := l0, l1, l2, l3
		rest := values[4:]
		for len(rest) >= 4 {
			l0, l1, l2, l3 = min(l0, rest[0]), min(l1, rest[1]), min(l2, rest[2]), min(l3, rest[3])
			m0, m1, m2, m3 = max(m0, rest[0]), max(m1, rest[1]), max(m2, rest[2]), max(m3, rest[3])
			rest = rest[4:]
		}
		least, most = min(l0, l1, l2, l3), max(m0, m1, m2, m3)
		values = rest
	}
	for _, v := range values {
		least, most = min(least, v), max(most, v)
	}
	return least, most
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// checksum is the CRC-32C of the bytes of block i, and of its rows'.
func (c *Column) checksum(i int) uint32 {
	from, to := c.span(i)
	sum := sumOf(0, bytesOf(c.Values[from:to]))
	if c.Rows != nil {
		sum = sumOf(sum, bytesOf(c.Rows[from:to]))
	}
	return sum
}

// sound says that the samples of blocks from <= i < to are those that were kept.
func (c *Column) sound(from, to int) bool {
	for i := from; i < to; i++ {
		if c.checksum(i) != c.blocks[i].sum {
			return false
		}
	}
	return true
}

const blockBytes = 24

func encodeBlocks(blocks []blockSum) string {
	out := make([]byte, 0, blockBytes*len(blocks))
	for _, b := range blocks {
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(b.least))
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(b.most))
		out = binary.LittleEndian.AppendUint32(out, b.bad)
		out = binary.LittleEndian.AppendUint32(out, b.sum)
	}
	return base64.StdEncoding.EncodeToString(out)
}

func decodeBlocks(text string, samples int) ([]blockSum, error) {
	data, err := base64.StdEncoding.DecodeString(text)
	if err != nil || len(data) != blockBytes*((samples+blockSamples-1)/blockSamples) {
		return nil, errDamaged
	}
	blocks := make([]blockSum, len(data)/blockBytes)
	for i := range blocks {
		b := data[blockBytes*i:]
		blocks[i] = blockSum{
			math.Float64frombits(binary.LittleEndian.Uint64(b)), math.Float64frombits(binary.LittleEndian.Uint64(b[8:])),
			binary.LittleEndian.Uint32(b[16:]), binary.LittleEndian.Uint32(b[20:]),
		}
	}
	return blocks, nil
}
