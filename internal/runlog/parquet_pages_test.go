package runlog

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// What a page claims of its size is refused before room is made for it: more than is stored, less than nothing, more than
// its bytes can unpack to, and more than all pages of the part may together.
func TestParquetPageClaims(t *testing.T) {
	const stored, rows = 40, 8
	page := func(size, open int32) []byte {
		h := format.PageHeader{Type: format.DataPage, CompressedPageSize: size, UncompressedPageSize: open}
		h.DataPageHeader = thrift.Null[format.DataPageHeader]{Valid: true, V: format.DataPageHeader{NumValues: rows, Encoding: format.Plain, DefinitionLevelEncoding: format.RLE, RepetitionLevelEncoding: format.RLE}}
		head, err := thrift.Marshal(new(thrift.CompactProtocol), h)
		if err != nil {
			t.Fatal(err)
		}
		return slices.Concat(head, make([]byte, stored))
	}
	for _, c := range []struct {
		size, open int32
		most       int64
		claims     bool
	}{
		{stored, 64, 1 << 30, false}, // it is told that its bytes do not unpack
		{stored + 1, 64, 1 << 30, true},
		{-1, 64, 1 << 30, true},
		{stored, -1, 1 << 30, true},
		{stored, leastPage + mostUnpacked*stored, 1 << 30, false},
		{stored, leastPage + mostUnpacked*stored + 1, 1 << 30, true},
		{stored, 64, 63, true},
	} {
		file := slices.Concat(parquetMagic, page(c.size, c.open))
		err := new(parquetPages).read(parquetSource{
			table: bytes.NewReader(file), size: int64(len(file)), kind: parquet.Double, rows: rows, most: c.most,
			meta: &format.ColumnMetaData{DataPageOffset: 4, TotalCompressedSize: int64(len(file)) - 4, Codec: format.Snappy},
		}, nil)
		if err == nil || strings.Contains(err.Error(), "claims to unpack") != c.claims {
			t.Errorf("%d bytes that claim to be %d of at most %d: %v", c.size, c.open, c.most, err)
		}
	}
}
