package export

import (
	"io"
	"reflect"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// rowsInGroup bounds what is held in memory until it is written.
const rowsInGroup = 1 << 16

// parquetWriter writes a Parquet file: every column may be null, instants are timestamps in milliseconds, texts UTF-8
// strings. The pages are compressed with Snappy.
type parquetWriter struct {
	w       *parquet.GenericWriter[any]
	columns []Column
	rows    []parquet.Row
	n       int
}

func newParquet(w io.Writer, t Table) (*parquetWriter, error) {
	p := &parquetWriter{columns: t.Columns}
	p.w = parquet.NewGenericWriter[any](w, schemaOf(t), parquet.Compression(&parquet.Snappy))
	return p, nil
}

// schemaOf makes the schema of a struct, for its fields keep their order.
func schemaOf(t Table) *parquet.Schema {
	var fields []reflect.StructField
	for _, k := range t.Columns {
		tag, of := k.Name+",optional", reflect.TypeFor[string]()
		switch k.Type {
		case Number:
			of = reflect.TypeFor[float64]()
		case Whole:
			of = reflect.TypeFor[int64]()
		case Flag:
			of = reflect.TypeFor[bool]()
		case Instant:
			of, tag = reflect.TypeFor[int64](), tag+",timestamp(millisecond)"
		}
		name := strings.ToUpper(k.Name[:1]) + k.Name[1:]
		fields = append(fields, reflect.StructField{Name: name, Type: of, Tag: reflect.StructTag(`parquet:"` + tag + `"`)})
	}
	return parquet.NewSchema(t.Name, parquet.SchemaOf(reflect.New(reflect.StructOf(fields)).Interface()))
}

func (p *parquetWriter) row(cells []Cell) error {
	row := make(parquet.Row, len(cells))
	for i, c := range cells {
		var v parquet.Value
		switch c.kind {
		case absentCell:
			row[i] = parquet.NullValue().Level(0, 0, i)
			continue
		case Number:
			v = parquet.DoubleValue(c.rounded(p.columns[i]))
		case Whole:
			v = parquet.Int64Value(c.n)
		case Flag:
			v = parquet.BooleanValue(c.n != 0)
		case Instant:
			v = parquet.Int64Value(c.n / 1e6)
		default:
			v = parquet.ByteArrayValue([]byte(c.s))
		}
		row[i] = v.Level(0, 1, i)
	}
	if p.rows = append(p.rows, row); len(p.rows) < 256 {
		return nil
	}
	return p.hand()
}

// hand gives the library what was gathered.
func (p *parquetWriter) hand() error {
	if _, err := p.w.WriteRows(p.rows); err != nil {
		return err
	}
	p.n += len(p.rows)
	p.rows = p.rows[:0]
	if p.n < rowsInGroup {
		return nil
	}
	p.n = 0
	return p.w.Flush()
}

func (p *parquetWriter) close() error {
	if err := p.hand(); err != nil {
		return err
	}
	return p.w.Close()
}
