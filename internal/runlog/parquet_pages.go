package runlog

import (
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding"
	"github.com/parquet-go/parquet-go/encoding/rle"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

const (
	// mostUnpacked is how many times its stored size a page may unpack to, and
	// leastPage what any page may.
	mostUnpacked = 1032
	leastPage    = 1 << 20
)

// parquetPages reads what a row group has of a column. The library unpacks and decodes; the room
// for it is kept here from one part to the next, for fresh memory costs more than the decoding.
type parquetPages struct {
	stored, unpacked []byte
	levels, bits     []byte
	places, ints     []int32
	longs            []int64
	floats           []float32
	doubles          []float64
	words            parquetSink // of the last dictionary
}

// parquetSource is where a part lies.
type parquetSource struct {
	table    io.ReaderAt
	size     int64 // of the file
	meta     *format.ColumnMetaData
	kind     parquet.Kind
	optional bool  // there may be nulls
	rows     int64 // of the row group
	most     int64 // bytes that it may unpack to
}

// read hands the values and nulls of a part to the sink.
func (p *parquetPages) read(from parquetSource, sink parquetSink) error {
	rest, err := p.load(from)
	if err != nil {
		return err
	}
	unpacked, dictionary := int64(0), false
	for len(rest) > 0 {
		var header format.PageHeader
		head := new(thrift.CompactProtocol).NewReaderFromBytes(rest) // which takes no length for true that is more than there is
		if err := thrift.NewDecoder(head).Decode(&header); err != nil {
			return fmt.Errorf("page header: %w", err)
		}
		rest = rest[head.BytesRead():]
		size, open := int64(header.CompressedPageSize), int64(header.UncompressedPageSize)
		unpacked += open
		if size < 0 || open < 0 || size > int64(len(rest)) || open > leastPage+mostUnpacked*size || unpacked > from.most {
			return fmt.Errorf("a page of %d bytes that claims to unpack to %d", size, open)
		}
		page := rest[:size]
		rest = rest[size:]
		if header.CRC != 0 && crc32.ChecksumIEEE(page) != uint32(header.CRC) {
			return errors.New("a page's checksum does not hold")
		}
		switch h := &header; {
		case h.Type == format.DictionaryPage && h.DictionaryPageHeader.Valid:
			err = p.readDictionary(from, sink, h, page)
			dictionary = true
		case h.Type == format.DataPage && h.DataPageHeader.Valid:
			err = p.readPage(from, sink, h, page, dictionary)
		case h.Type == format.DataPageV2 && h.DataPageHeaderV2.Valid:
			err = p.readPageV2(from, sink, h, page, dictionary)
		default:
			err = fmt.Errorf("a page of type %d", h.Type)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// load reads all that is stored of a part.
func (p *parquetPages) load(from parquetSource) ([]byte, error) {
	at := from.meta.DataPageOffset
	if d := from.meta.DictionaryPageOffset; d > 0 && d < at {
		at = d
	}
	end := at + from.meta.TotalCompressedSize
	if at < 4 || end > from.size || end < at {
		return nil, errors.New("it lies outside the file")
	}
	p.stored = slices.Grow(p.stored[:0], int(end-at))[:end-at]
	if _, err := from.table.ReadAt(p.stored, at); err != nil {
		return nil, err
	}
	return p.stored, nil
}

// unpack undoes the compression of a page.
func (p *parquetPages) unpack(from parquetSource, page []byte, size int32) ([]byte, error) {
	if from.meta.Codec == format.Uncompressed {
		return page, nil
	}
	const padding = 64 // lets the decoder of bits read on behind the end
	p.unpacked = slices.Grow(p.unpacked[:0], int(size)+padding)[:size]
	open, err := parquet.LookupCompressionCodec(from.meta.Codec).Decode(p.unpacked, page)
	if err != nil {
		return nil, err
	}
	p.unpacked = open
	return open, nil
}

// count refuses what no page of the row group can hold.
func (from *parquetSource) count(n int32) (int, error) {
	if n < 0 || int64(n) > max(from.rows, leastPage/8) {
		return 0, fmt.Errorf("a page of %d values for %d rows", n, from.rows)
	}
	return int(n), nil
}

func (p *parquetPages) readDictionary(from parquetSource, sink parquetSink, h *format.PageHeader, page []byte) error {
	n, err := from.count(h.DictionaryPageHeader.V.NumValues)
	if err != nil {
		return err
	}
	data, err := p.unpack(from, page, h.UncompressedPageSize)
	if err != nil {
		return err
	}
	p.words = sink.words(n, p.words)
	return p.put(from.kind, p.words, &parquet.Plain, data, n, nil)
}

func (p *parquetPages) readPage(from parquetSource, sink parquetSink, h *format.PageHeader, page []byte, dictionary bool) error {
	n, err := from.count(h.DataPageHeader.V.NumValues)
	if err != nil {
		return err
	}
	data, err := p.unpack(from, page, h.UncompressedPageSize)
	if err != nil {
		return err
	}
	var levels []byte
	if from.optional {
		if e := h.DataPageHeader.V.DefinitionLevelEncoding; e != format.RLE {
			return fmt.Errorf("nulls in encoding %s", e)
		}
		if len(data) < 4 {
			return io.ErrUnexpectedEOF
		}
		size := int64(uint32(data[0]) | uint32(data[1])<<8 | uint32(data[2])<<16 | uint32(data[3])<<24)
		if data = data[4:]; size > int64(len(data)) {
			return io.ErrUnexpectedEOF
		}
		levels, data = data[:size], data[size:]
	}
	return p.readValues(from, sink, h.DataPageHeader.V.Encoding, levels, data, n, dictionary)
}

func (p *parquetPages) readPageV2(from parquetSource, sink parquetSink, h *format.PageHeader, page []byte, dictionary bool) error {
	v := &h.DataPageHeaderV2.V
	n, err := from.count(v.NumValues)
	if err != nil {
		return err
	}
	before, size := v.RepetitionLevelsByteLength, v.DefinitionLevelsByteLength
	if before < 0 || size < 0 || int64(before)+int64(size) > int64(len(page)) {
		return io.ErrUnexpectedEOF
	}
	levels, data := page[before:before+size], page[before+size:]
	if !v.IsCompressed.Valid || v.IsCompressed.V {
		if data, err = p.unpack(from, data, max(0, h.UncompressedPageSize-before-size)); err != nil {
			return err
		}
	}
	return p.readValues(from, sink, v.Encoding, levels, data, n, dictionary)
}

// readValues decodes n values and nulls of a page. Levels say which are nulls; none: there are none.
func (p *parquetPages) readValues(from parquetSource, sink parquetSink, e format.Encoding, levels, data []byte, n int, dictionary bool) error {
	present := n
	if !from.optional || len(levels) == 0 {
		levels = nil
	} else {
		var err error
		if levels, err = decoded(&p.levels, (&rle.Encoding{BitWidth: 1}).DecodeLevels, levels, n); err != nil {
			return err
		}
		if present = bytes.Count(levels, []byte{1}); present == n {
			levels = nil
		}
	}
	//lint:ignore SA1019 older writers say so
	if e != format.PlainDictionary && e != format.RLEDictionary {
		return p.put(from.kind, sink, parquet.LookupEncoding(e), data, present, levels)
	}
	if !dictionary {
		return errors.New("places in a dictionary that is not there")
	}
	look := func(run []int32) { sink.look(p.words, run) }
	if len(data) <= 1 { // some writers give the places in a dictionary of one word no room at all
		return runs(levels, make([]int32, present), look, sink.nulls)
	}
	return hand(&p.places, parquet.RLEDictionary.DecodeInt32, data, present, levels, look, sink.nulls)
}

// put decodes n values, and hands them and the nulls between them to a sink.
func (p *parquetPages) put(kind parquet.Kind, sink parquetSink, e encoding.Encoding, data []byte, n int, levels []byte) error {
	switch kind {
	case parquet.Double:
		return hand(&p.doubles, e.DecodeDouble, data, n, levels, sink.numbers, sink.nulls)
	case parquet.Float:
		return hand(&p.floats, e.DecodeFloat, data, n, levels, widened[float32](sink.numbers), sink.nulls)
	case parquet.Int64:
		return hand(&p.longs, e.DecodeInt64, data, n, levels, sink.wholes, sink.nulls)
	case parquet.Int32:
		return hand(&p.ints, e.DecodeInt32, data, n, levels, widened[int32](sink.wholes), sink.nulls)
	}
	bits, err := decoded(&p.bits, e.DecodeBoolean, data, (n+7)/8)
	if err != nil {
		return err
	}
	p.longs = p.longs[:0]
	for i := range n {
		p.longs = append(p.longs, int64(bits[i/8]>>(i%8)&1))
	}
	return runs(levels, p.longs, sink.wholes, sink.nulls)
}

// decoded decodes n values into the room kept for them.
func decoded[T any](room *[]T, decode func([]T, []byte) ([]T, error), data []byte, n int) ([]T, error) {
	all, err := decode(*room, data)
	if err != nil {
		return nil, err
	}
	if *room = all; len(all) < n {
		return nil, fmt.Errorf("%d values, %d expected", len(all), n)
	}
	return all[:n], nil
}

func hand[T any](room *[]T, decode func([]T, []byte) ([]T, error), data []byte, n int, levels []byte, put func([]T), nulls func(int)) error {
	values, err := decoded(room, decode, data, n)
	if err != nil {
		return err
	}
	return runs(levels, values, put, nulls)
}

// widened puts down values of four bytes as eight, so few at a time that they stay in the
// processor's nearest memory.
func widened[F float32 | int32, T float64 | int64](put func([]T)) func([]F) {
	var room [1024]T
	return func(run []F) {
		for len(run) > 0 {
			part := run[:min(len(run), len(room))]
			for i, v := range part {
				room[i] = T(v)
			}
			put(room[:len(part)])
			run = run[len(part):]
		}
	}
}

// runs goes over the rows of a page; levels say which of them have a value, all where there are none.
func runs[T any](levels []byte, values []T, put func([]T), nulls func(int)) error {
	if len(levels) == 0 {
		put(values)
		return nil
	}
	for len(levels) > 0 {
		n := 0
		for n < len(levels) && levels[n] != 0 {
			n++
		}
		if n > len(values) {
			return errors.New("fewer values than its levels say")
		}
		if n > 0 {
			put(values[:n])
		}
		values, levels = values[n:], levels[n:]
		for n = 0; n < len(levels) && levels[n] == 0; {
			n++
		}
		if n > 0 {
			nulls(n)
		}
		levels = levels[n:]
	}
	return nil
}
