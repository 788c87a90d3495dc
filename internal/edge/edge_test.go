// Package edge holds every exported function that computes against edge
// values: no NaN, no infinity and no panic comes out, or a named refusal does.
package edge

import (
	"context"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"hash/fnv"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tautline/num"
)

// T26: random and edge inputs into every exported function of the packages that
// compute. One that can refuse gets NaN, infinities and the largest numbers
// too: it refuses, or every number it gives is one. An Estimate may say "none"
// or "not bounded": those are its documented answers. One that cannot refuse is
// a plain formula and passes a NaN on, as whoever lets numbers in from outside
// calls one that can: it gets numbers of every size a field or a file can hold.
// TAUTLINE_LONG=1 gives each a million inputs or five seconds, whichever is
// less; TAUTLINE_LONG=2m two minutes.
func TestNothingUndefinedComesOut(t *testing.T) {
	inputs, most := 300, 40*time.Millisecond
	if long := os.Getenv("TAUTLINE_LONG"); long != "" {
		inputs, most = 1_000_000, 5*time.Second
		if d, err := time.ParseDuration(long); err == nil && d > 0 {
			most = d
		}
	}
	calls, whole := 0, 0
	all := tried()
	for _, name := range sortedNames(all) {
		t.Run(name, func(t *testing.T) {
			n := tryOften(t, all[name], inputs, most)
			if calls += n; n == inputs {
				whole++
			}
		})
	}
	t.Logf("%d functions, %d calls; %d functions were given all %d inputs", len(all), calls, whole, inputs)
}

// tried are the functions that are tried, with or without refusal.
func tried() map[string]any {
	all := maps.Clone(entries)
	maps.Copy(all, formulas)
	return all
}

// tryOften tries one function until the inputs or the time are used up, and
// says how often it was called.
func tryOften(t *testing.T, f any, inputs int, most time.Duration) int {
	t.Helper()
	h := fnv.New64a()
	_, _ = h.Write([]byte(t.Name())) // never fails
	rng := rand.New(rand.NewPCG(26, h.Sum64()))
	began := time.Now()
	for i := range inputs {
		if fault := try(rng, f); fault != "" {
			t.Error(fault)
			return i + 1
		}
		if i%16 == 0 && time.Since(began) > most {
			return i + 1
		}
	}
	return inputs
}

// try calls a function once and says what is wrong with its answer.
func try(rng *rand.Rand, f any) (fault string) {
	v := reflect.ValueOf(f)
	kind := v.Type()
	g := gen{rng: rng, wild: refuses(kind)}
	var in []reflect.Value
	for i := range kind.NumIn() {
		if kind.IsVariadic() && i == kind.NumIn()-1 {
			break
		}
		in = append(in, g.value(kind.In(i), 0))
	}
	defer func() {
		if r := recover(); r != nil {
			fault = fmt.Sprintf("panic %v for %s", r, shown(in))
		}
	}()
	out := v.Call(in)
	if refused(out) {
		return ""
	}
	for i, o := range out {
		if at := undefined(o, fmt.Sprint("result ", i), 0); at != "" {
			return at + " for " + shown(in)
		}
	}
	return ""
}

func shown(in []reflect.Value) string {
	var out []string
	for _, v := range in {
		if v.Kind() == reflect.Func {
			out = append(out, "a function")
			continue
		}
		out = append(out, fmt.Sprintf("%+v", v.Interface()))
	}
	text := strings.Join(out, "; ")
	return text[:min(len(text), 600)]
}

var (
	errorType   = reflect.TypeFor[error]()
	contextType = reflect.TypeFor[context.Context]()
	statusType  = reflect.TypeFor[num.Status]()
)

// refuses reports whether a function can say no: by an error, a status, a
// warning's text or ok.
func refuses(kind reflect.Type) bool {
	for i := range kind.NumOut() {
		out := kind.Out(i)
		if out.Implements(errorType) || out == statusType || out.Kind() == reflect.Struct && hasStatus(out) {
			return true
		}
	}
	return false
}

func hasStatus(kind reflect.Type) bool {
	f, ok := kind.FieldByName("Status")
	return ok && f.Type == statusType
}

// refused reports whether it did.
func refused(out []reflect.Value) bool {
	for _, o := range out {
		switch {
		case o.Type().Implements(errorType) && o.Kind() == reflect.Interface && !o.IsNil():
			return true
		case o.Type() == statusType && !o.Interface().(num.Status).OK():
			return true
		case o.Kind() == reflect.Struct && hasStatus(o.Type()) && !o.FieldByName("Status").Interface().(num.Status).OK():
			return true
		case o.Kind() == reflect.Bool && !o.Bool():
			return true
		}
	}
	return false
}

// undefined finds a number that is none.
func undefined(v reflect.Value, path string, deep int) string {
	if deep > 8 || strings.HasPrefix(v.Type().Name(), "Estimate[") {
		return ""
	}
	switch v.Kind() {
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Sprintf("%s is %v", path, x)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				if at := undefined(v.Field(i), path+"."+f.Name, deep+1); at != "" {
					return at
				}
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if at := undefined(v.Index(i), fmt.Sprintf("%s[%d]", path, i), deep+1); at != "" {
				return at
			}
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return undefined(v.Elem(), path, deep+1)
		}
	}
	return ""
}

// gen makes inputs of any kind.
type gen struct {
	rng  *rand.Rand
	wild bool // NaN, infinities and the largest numbers too
}

func (g gen) number() float64 {
	tame := []float64{0, math.Copysign(0, -1), 1, -1, 1e-9, -1e-9, 5e-324, 0.5, 1e12, -1e12, 2, 0.05, 0.95, 100}
	wild := []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 1e200}
	switch n := g.rng.IntN(8); {
	case n < 2:
		return tame[g.rng.IntN(len(tame))]
	case n == 2 && g.wild:
		return wild[g.rng.IntN(len(wild))]
	case n < 5:
		return g.rng.Float64()
	case n < 7:
		return math.Exp(12*g.rng.Float64()-6) * float64(1-2*g.rng.IntN(2))
	}
	return math.Exp(40*g.rng.Float64() - 20)
}

func (g gen) whole() int {
	return []int{0, 1, 2, 3, 5, 6, 12, 36, 72, -1, 100}[g.rng.IntN(11)]
}

func (g gen) text() string {
	return []string{"", "1", "8 3/4 in", "22,5 cm", "-0 m", "1e400 mm", "NaN kg", "41#", "A", "B", "X", "10", "122", "x\x00", "9999999999999999999 lb", "level_db", "old"}[g.rng.IntN(17)]
}

// value makes one of the type; a sample of it with a field or two spoilt where
// there is one, so that checks of the first field do not hide the rest.
func (g gen) value(kind reflect.Type, deep int) reflect.Value {
	if kind == contextType {
		return reflect.ValueOf(context.Background())
	}
	v := reflect.New(kind).Elem()
	if sample, ok := samples[kind]; ok && (ours[kind] || g.rng.IntN(8) > 0) {
		v.Set(reflect.ValueOf(sample()))
		if g.rng.IntN(3) > 0 && kind.Kind() == reflect.Struct && !ours[kind] {
			g.spoil(v)
		}
		return v
	}
	switch kind.Kind() {
	case reflect.Float64, reflect.Float32:
		v.SetFloat(g.number())
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Int8:
		v.SetInt(int64(g.whole()))
	case reflect.Uint64, reflect.Uint32, reflect.Uint, reflect.Uint8:
		v.SetUint(uint64(max(0, g.whole())))
	case reflect.Bool:
		v.SetBool(g.rng.IntN(2) == 0)
	case reflect.String:
		v.SetString(g.text())
	case reflect.Slice:
		if deep < 4 {
			for range []int{0, 1, 2, 3, 6, 12}[g.rng.IntN(6)] {
				v = reflect.Append(v, g.value(kind.Elem(), deep+1))
			}
		}
	case reflect.Array:
		for i := range v.Len() {
			v.Index(i).Set(g.value(kind.Elem(), deep+1))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if kind.Field(i).IsExported() {
				v.Field(i).Set(g.value(kind.Field(i).Type, deep+1))
			}
		}
	case reflect.Func:
		v.Set(reflect.MakeFunc(kind, func([]reflect.Value) (out []reflect.Value) {
			for i := range kind.NumOut() {
				out = append(out, g.value(kind.Out(i), deep+1))
			}
			return out
		}))
	}
	return v
}

func (g gen) spoil(v reflect.Value) {
	for range 1 + g.rng.IntN(2) {
		if i := g.rng.IntN(v.NumField()); v.Type().Field(i).IsExported() {
			v.Field(i).Set(g.value(v.Field(i).Type(), 1))
		}
	}
}

func sortedNames[V any](m map[string]V) (names []string) {
	for n := range m {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// A function that is added to a package needs an entry here, or a reason.
func TestEveryFunctionIsTried(t *testing.T) {
	all := tried()
	for _, pkg := range packages {
		for _, name := range api(t, pkg) {
			_, known := all[name]
			why, left := passedOver[name]
			if owner := name[:strings.LastIndex(name, ".")]; !left && strings.Count(name, ".") == 2 {
				why, left = passedOver[owner+".*"]
			}
			switch {
			case known && left:
				t.Errorf("%s is tried and passed over (%s)", name, why)
			case !known && !left:
				t.Errorf("%s is not tried on edge values: add it to entries, or say in passedOver why not", name)
			}
		}
	}
}

// api lists a package's exported functions and methods that give more than a
// text or a yes or no, or that can refuse.
func api(t *testing.T, pkg string) (names []string) {
	t.Helper()
	set := token.NewFileSet()
	dir := filepath.Join("..", "..", pkg)
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		parsed, err := parser.ParseFile(set, file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range parsed.Decls {
			if name, ok := tells(d); ok {
				names = append(names, pkg+"."+name)
			}
		}
	}
	if len(names) == 0 {
		t.Fatalf("%s: no function was found", pkg)
	}
	slices.Sort(names)
	return names
}

// tells gives the name of an exported function that gives a number, something
// that may hold one, or an error.
func tells(d ast.Decl) (string, bool) {
	f, ok := d.(*ast.FuncDecl)
	if !ok || !f.Name.IsExported() || f.Type.Results == nil {
		return "", false
	}
	if !slices.ContainsFunc(f.Type.Results.List, func(r *ast.Field) bool { return !saysOnly(r.Type) }) {
		return "", false
	}
	if f.Recv == nil {
		return f.Name.Name, true
	}
	owner := receiver(f.Recv.List[0].Type)
	return owner + "." + f.Name.Name, ast.IsExported(owner)
}

// saysOnly reports whether a result is a text or a yes or no.
func saysOnly(e ast.Expr) bool {
	if list, ok := e.(*ast.ArrayType); ok {
		e = list.Elt
	}
	name, ok := e.(*ast.Ident)
	return ok && (name.Name == "string" || name.Name == "bool")
}

func receiver(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.StarExpr:
		return receiver(e.X)
	case *ast.IndexExpr:
		return receiver(e.X)
	case *ast.Ident:
		return e.Name
	}
	return strconv.Itoa(int(e.Pos()))
}
