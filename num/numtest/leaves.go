package numtest

import (
	"fmt"
	"reflect"
)

// Leaves visits every number, text and truth value that a reader of v can see,
// by its path, through pointers, lists, maps and structures. Unexported fields,
// functions and channels are passed over, and so is what refers back to itself.
func Leaves(v any, visit func(path string, leaf reflect.Value)) {
	walk("", reflect.ValueOf(v), visit, map[uintptr]bool{})
}

func walk(path string, v reflect.Value, visit func(string, reflect.Value), open map[uintptr]bool) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return
		}
		if v.Kind() == reflect.Pointer {
			if open[v.Pointer()] {
				return
			}
			open[v.Pointer()] = true
			defer delete(open, v.Pointer())
		}
		walk(path, v.Elem(), visit, open)
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				walk(path+"."+f.Name, v.Field(i), visit, open)
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			walk(fmt.Sprintf("%s[%d]", path, i), v.Index(i), visit, open)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			walk(fmt.Sprintf("%s[%v]", path, k), v.MapIndex(k), visit, open)
		}
	case reflect.Invalid, reflect.Func, reflect.Chan, reflect.UnsafePointer:
	default:
		visit(path, v)
	}
}
