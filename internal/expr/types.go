package expr

import (
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/schema"
)

// typeTable gives schema types their CEL types. It is CEL's type provider; its object
// types are named so that no expression can spell them. Safe for concurrent use.
type typeTable struct {
	*types.Registry
	mu      sync.RWMutex
	byType  map[*schema.Type]*types.Type
	objects map[string]*schema.Type // by CEL name
}

// newTypeTable makes a table over CEL's own types, which it only reads.
func newTypeTable(r *types.Registry) *typeTable {
	return &typeTable{Registry: r, byType: map[*schema.Type]*types.Type{}, objects: map[string]*schema.Type{}}
}

var curveType = types.NewOpaqueType("curve")

// celType is the CEL type of a schema type.
func (tt *typeTable) celType(t *schema.Type) *types.Type {
	switch t.Kind {
	case schema.Quantity, schema.Number:
		return types.DoubleType
	case schema.Integer:
		return types.IntType
	case schema.Text, schema.Enum:
		return types.StringType
	case schema.YesNo:
		return types.BoolType
	case schema.Date, schema.Instant:
		return types.TimestampType
	case schema.Curve:
		return curveType
	}
	tt.mu.RLock()
	ct := tt.byType[t]
	tt.mu.RUnlock()
	if ct != nil {
		return ct
	}
	switch t.Kind {
	case schema.List:
		ct = types.NewListType(tt.celType(t.Elem))
	case schema.Map:
		ct = types.NewMapType(types.StringType, tt.celType(t.Elem))
	default:
		return tt.object(t)
	}
	tt.mu.Lock()
	defer tt.mu.Unlock()
	tt.byType[t] = ct
	return ct
}

// object names an object type; its fields get their types when they are asked for, so
// a schema may refer to itself.
func (tt *typeTable) object(t *schema.Type) *types.Type {
	tt.mu.Lock()
	defer tt.mu.Unlock()
	if ct := tt.byType[t]; ct != nil {
		return ct
	}
	name := "@" + t.Name
	for i := 2; tt.objects[name] != nil; i++ {
		name = "@" + t.Name + "#" + strconv.Itoa(i)
	}
	ct := types.NewObjectType(name)
	tt.byType[t], tt.objects[name] = ct, t
	return ct
}

func (tt *typeTable) schemaOf(name string) *schema.Type {
	if !strings.HasPrefix(name, "@") {
		return nil
	}
	tt.mu.RLock()
	defer tt.mu.RUnlock()
	return tt.objects[name]
}

// FindStructType is part of CEL's type provider.
func (tt *typeTable) FindStructType(name string) (*types.Type, bool) {
	t := tt.schemaOf(name)
	if t == nil {
		return nil, false
	}
	return types.NewTypeTypeWithParam(tt.celType(t)), true
}

// FindStructFieldNames is part of CEL's type provider.
func (tt *typeTable) FindStructFieldNames(name string) ([]string, bool) {
	t := tt.schemaOf(name)
	if t == nil {
		return nil, false
	}
	return fieldNames(t), true
}

// FindStructFieldType is part of CEL's type provider.
func (tt *typeTable) FindStructFieldType(name, field string) (*types.FieldType, bool) {
	t := tt.schemaOf(name)
	if t == nil || t.Fields[field] == nil {
		return nil, false
	}
	return &types.FieldType{Type: tt.celType(t.Fields[field])}, true
}

func fieldNames(t *schema.Type) []string {
	names := make([]string, 0, len(t.Fields))
	for name := range t.Fields {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// aType says a CEL type in plain words with its article; an object goes by its name.
func aType(t *types.Type) string {
	if t.Kind() == types.StructKind {
		return typeWords(t)
	}
	return "a " + typeWords(t)
}

// typeWords says a CEL type in plain words.
func typeWords(t *types.Type) string {
	switch t.Kind() {
	case types.DoubleKind:
		return "number"
	case types.IntKind, types.UintKind:
		return "whole number"
	case types.BoolKind:
		return "yes or no"
	case types.StringKind:
		return "text"
	case types.TimestampKind:
		return "date"
	case types.DurationKind:
		return "duration"
	case types.ListKind:
		return "list"
	case types.MapKind:
		return "map"
	case types.StructKind:
		name, _, _ := strings.Cut(strings.TrimPrefix(t.TypeName(), "@"), "#")
		return name
	case types.OpaqueKind:
		return t.TypeName()
	}
	return "value"
}
