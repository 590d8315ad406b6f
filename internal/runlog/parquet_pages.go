package runlog

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

const (
	// mostUnpacked is how many times its stored size a page may unpack to, and
	// leastPage what any page may.
	mostUnpacked = 1032
	leastPage    = 1 << 20
)

// soundPages goes over the page headers of a column's part of a row group: the
// library makes room for pages of whatever size and count they claim.
func soundPages(table io.ReaderAt, meta *format.ColumnMetaData, rows int64, size int64, most int64) error {
	at := meta.DataPageOffset
	if d := meta.DictionaryPageOffset; d > 0 && d < at {
		at = d
	}
	end := at + meta.TotalCompressedSize
	if at < 4 || meta.TotalCompressedSize < 0 || end > size || end < at {
		return errors.New("it lies outside the file")
	}
	var protocol thrift.CompactProtocol
	unpacked := int64(0)
	for at < end {
		section := io.NewSectionReader(table, at, end-at)
		b := bufio.NewReader(section)
		var header format.PageHeader
		if err := thrift.NewDecoder(protocol.NewReader(b)).Decode(&header); err != nil {
			return fmt.Errorf("page header: %w", err)
		}
		read, err := section.Seek(0, io.SeekCurrent)
		if err != nil {
			return err
		}
		at += read - int64(b.Buffered())
		stored, open := int64(header.CompressedPageSize), int64(header.UncompressedPageSize)
		unpacked += open
		if stored < 0 || open < 0 || stored > end-at || open > leastPage+mostUnpacked*stored || unpacked > most {
			return fmt.Errorf("a page of %d bytes that claims to unpack to %d", stored, open)
		}
		if n := pageValues(&header); n < 0 || n > max(rows, leastPage/8) {
			return fmt.Errorf("a page of %d values for %d rows", n, rows)
		}
		at += stored
	}
	return nil
}

// pageValues is how many values a page claims to hold.
func pageValues(h *format.PageHeader) int64 {
	switch h.Type {
	case format.DataPage:
		return int64(h.DataPageHeader.V.NumValues)
	case format.DataPageV2:
		return int64(h.DataPageHeaderV2.V.NumValues)
	case format.DictionaryPage:
		return int64(h.DictionaryPageHeader.V.NumValues)
	}
	return 0
}
