package server

import (
	"reflect"
	"strconv"
	"strings"

	"tautline/unit"
)

// Shown is a quantity for the screen: what to print, and the number behind it.
type Shown struct {
	SI   float64 `json:"si" doc:"Value in the SI unit named beside it." example:"0.225"`
	Unit string  `json:"unit" doc:"The SI unit." example:"m"`
	Text string  `json:"text" doc:"As the person reads it, with unit." example:"225 mm"`
}

// shownOf lists every quantity of a record as this person reads it, by its
// JSON pointer: {"/brace_height/value": …}. The record itself keeps what was
// typed.
func shownOf(record any, system unit.System) map[string]Shown {
	out := map[string]Shown{}
	collect(reflect.ValueOf(record), system, "", out)
	return out
}

func collect(v reflect.Value, system unit.System, at string, out map[string]Shown) {
	for v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return
		}
		v = v.Elem()
	}
	if !v.IsValid() {
		return
	}
	if k, ok := kindFor(v.Type(), at); ok {
		if typed := v.FieldByName("Typed"); !typed.IsZero() {
			si := typed.FieldByName("Value").Float()
			out[at] = Shown{si, k.si, k.precise(system, si, typed.FieldByName("Step").Float())}
		}
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		collectFields(v, system, at, out)
	case reflect.Slice:
		for i := range v.Len() {
			collect(v.Index(i), system, at+"/"+strconv.Itoa(i), out)
		}
	}
}

func collectFields(v reflect.Value, system unit.System, at string, out map[string]Shown) {
	t := v.Type()
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case !f.IsExported() && !f.Anonymous || name == "-":
		case f.Anonymous && name == "":
			collect(v.Field(i), system, at, out)
		case name == "":
			collect(v.Field(i), system, at+"/"+f.Name, out)
		default:
			collect(v.Field(i), system, at+"/"+name, out)
		}
	}
}
