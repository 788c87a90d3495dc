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
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"tautline/num"
	"tautline/trial"
)

// T26: random and edge inputs into every exported function of the packages that
// compute. One that can refuse gets NaN, infinities and the largest numbers
// too: it refuses, or every number it gives is one. An Estimate, or a Fieller set, may say "none"
// or "not bounded": those are its documented answers. One that cannot refuse is
// a plain formula and passes a NaN on, as whoever lets numbers in from outside
// calls one that can: it gets numbers of every size a field or a file can hold.
//
// TAUTLINE_LONG (make numbers) gives every cheap one, of less than 20 µs a
// call with the making of its inputs, a million inputs whatever that takes, and the others five seconds each,
// or as long as TAUTLINE_LONG says: 30s. At the end stands a table.
func TestNothingUndefinedComesOut(t *testing.T) {
	p := pace{inputs: 300, most: 40 * time.Millisecond}
	if long := os.Getenv("TAUTLINE_LONG"); long != "" {
		p = pace{inputs: 1_000_000, most: 5 * time.Second, long: true, end: time.Now().Add(longest)}
		if d, err := time.ParseDuration(long); err == nil && d > 0 {
			p.most = d
		}
	}
	all := tried()
	table := tallies{of: len(all)}
	t.Run("all", func(t *testing.T) {
		for _, name := range sortedNames(all) {
			t.Run(name, func(t *testing.T) {
				if p.long {
					t.Parallel()
				}
				table.add(p.tries(t, name, all[name]))
			})
		}
	})
	table.print(t, p)
}

const (
	longest = 25 * time.Minute      // of the long run in all; what is cheap and was not done by then fails
	cheap   = 20 * time.Microsecond // a call
)

// pace says how often a function is tried.
type pace struct {
	inputs int
	most   time.Duration // for one that is not cheap
	long   bool
	end    time.Time
}

// tally is how one function fared.
type tally struct {
	name            string
	calls, answered int // answered: not refused
	took            time.Duration
	cheap, failed   bool
}

// tallies are those of all.
type tallies struct {
	mu   sync.Mutex
	of   int
	list []tally
}

func (l *tallies) add(one tally) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.list = append(l.list, one); one.calls > 1000 {
		fmt.Fprintf(os.Stderr, "%3d/%d %-50s %8d in %v\n", len(l.list), l.of, one.name, one.calls, one.took.Round(time.Millisecond))
	}
}

// print says at the end what was done.
func (l *tallies) print(t *testing.T, p pace) {
	slices.SortFunc(l.list, func(a, b tally) int { return strings.Compare(a.name, b.name) })
	var text strings.Builder
	calls, whole, failed := 0, 0, 0
	for _, one := range l.list {
		calls += one.calls
		if one.calls == p.inputs {
			whole++
		}
		note := ""
		if one.failed {
			failed, note = failed+1, "FAILED"
		}
		fmt.Fprintf(&text, "%-60s %8d calls %8d answered %10v a call %s\n", one.name, one.calls, one.answered, one.took/time.Duration(max(one.calls, 1)), note)
	}
	fmt.Fprintf(&text, "%d functions, %d failed, %d calls; %d functions were given all %d inputs", len(l.list), failed, calls, whole, p.inputs)
	if p.long {
		t.Log("\n" + text.String())
	} else {
		t.Logf("%d functions, %d calls; %d functions were given all %d inputs", len(l.list), calls, whole, p.inputs)
	}
}

// tried are the functions that are tried, with or without refusal.
func tried() map[string]any {
	all := maps.Clone(entries)
	maps.Copy(all, formulas)
	maps.Copy(all, words)
	return all
}

// cpuTime is what this thread has computed so far: what else the machine does is
// no part of it.
func cpuTime(t *testing.T) time.Duration {
	const ofThread = 1 // RUSAGE_THREAD, getrusage(2)
	var used syscall.Rusage
	if err := syscall.Getrusage(ofThread, &used); err != nil {
		t.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// batch is after how many calls the clock is looked at.
const batch = 16

// tries tries one function until the inputs or the time are used up. A function
// that refuses everything was not tried at all.
func (p pace) tries(t *testing.T, name string, f any) (out tally) {
	t.Helper()
	h := fnv.New64a()
	_, _ = h.Write([]byte(name)) // never fails
	rng := rand.New(rand.NewPCG(26, h.Sum64()))
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	began := cpuTime(t)
	out.name = name
	refusal := ""
	for out.calls < p.inputs {
		fault, why := try(rng, f)
		if out.calls++; fault != "" {
			out.failed = true
			t.Error(fault)
			return out
		}
		if why == "" {
			out.answered++
		} else {
			refusal = why
		}
		if out.calls%batch != 0 {
			continue
		}
		out.took = cpuTime(t) - began
		out.cheap = out.took < cheap*time.Duration(out.calls)
		if out.took > p.most && !(p.long && out.cheap) || p.long && time.Now().After(p.end) {
			break
		}
	}
	switch {
	case p.long && out.cheap && out.calls < p.inputs:
		t.Errorf("it is cheap, and was given %d of %d inputs before the time was over", out.calls, p.inputs)
	case out.answered == 0 && !alwaysRefused[name]:
		t.Errorf("it refused each of %d inputs: nothing was tried; the last: %s", out.calls, refusal)
	}
	return out
}

// try calls a function once and says what is wrong with its answer, and whether
// it was refused.
func try(rng *rand.Rand, f any) (fault, refusal string) {
	v := reflect.ValueOf(f)
	kind := v.Type()
	g := gen{rng: rng, wild: refuses(kind), mild: rng.IntN(2) == 0}
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
	if no := refused(out); no != "" {
		return "", no
	}
	for i, o := range out {
		if at := undefined(o, fmt.Sprint("result ", i), 0); at != "" {
			return at + " for " + shown(in), ""
		}
	}
	return "", ""
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

// refused says how it refused, "" for not at all.
func refused(out []reflect.Value) string {
	if len(out) == 1 && out[0].Kind() == reflect.Bool {
		return "" // a question, answered
	}
	for _, o := range out {
		switch {
		case o.Type().Implements(errorType) && o.Kind() == reflect.Interface && !o.IsNil():
			return fmt.Sprint(o.Interface())
		case o.Type() == statusType && !o.Interface().(num.Status).OK():
			return fmt.Sprint(o.Interface())
		case o.Kind() == reflect.Struct && hasStatus(o.Type()) && !o.FieldByName("Status").Interface().(num.Status).OK():
			return fmt.Sprint(o.FieldByName("Status").Interface())
		case o.Kind() == reflect.Bool && !o.Bool():
			return "false"
		}
	}
	return ""
}

// noNumber finds in words a number that is none.
var noNumber = regexp.MustCompile(`\bNaN\b|[+-]Inf\b`)

// undefined finds a number that is none, also in words.
func undefined(v reflect.Value, path string, deep int) string {
	switch {
	case deep > 8 || v.Type() == reflect.TypeFor[trial.FiellerSet]():
		return ""
	case strings.HasPrefix(v.Type().Name(), "Estimate["):
		return noEstimate(v, path)
	}
	switch v.Kind() {
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Sprintf("%s is %v", path, x)
		}
	case reflect.String:
		if noNumber.MatchString(v.String()) {
			return fmt.Sprintf("%s says %q", path, v.String())
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

// noEstimate finds what is wrong with an estimate: it has no value, and then
// its ends are not numbers to hold on to, or a finite value between ends that
// may be infinite but are in order, at a level.
func noEstimate(v reflect.Value, path string) string {
	of := func(field string) float64 { return v.FieldByName(field).Float() }
	value, low, high, level := of("Value"), of("Low"), of("High"), 1.
	if v.FieldByName("Level").IsValid() { // the workbench's are all at one level
		level = of("Level")
	}
	switch {
	case math.IsNaN(value) && (low < high || math.IsNaN(low) && math.IsNaN(high)):
		return "" // none, between all that it can be
	case v.IsZero():
		return "" // not asked for
	case math.IsNaN(value) || math.IsInf(value, 0), !(low <= value && value <= high), math.IsInf(low, 1), math.IsInf(high, -1), !(level > 0 && level <= 1):
		return fmt.Sprintf("%s is %v between %v and %v at %v", path, value, low, high, level)
	}
	return ""
}

// gen makes inputs of any kind.
type gen struct {
	rng   *rand.Rand
	wild  bool // NaN, infinities and the largest numbers too
	mild  bool // numbers as they are measured: most of them are taken
	sound bool // estimates are well-formed: what a caller's own function gives is the caller's
}

func (g gen) number() float64 {
	tame := []float64{0, math.Copysign(0, -1), 1, -1, 1e-9, -1e-9, 5e-324, 0.5, 1e12, -1e12, 2, 0.05, 0.95, 100}
	if g.mild && g.rng.IntN(20) > 0 {
		return (0.05 + g.rng.Float64()) * []float64{1, 1, 10, 100}[g.rng.IntN(4)]
	}
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
	if g.mild {
		return 1 + g.rng.IntN(12)
	}
	return []int{0, 1, 2, 3, 5, 6, 12, 36, 72, -1, 100}[g.rng.IntN(11)]
}

// texts are what is typed, and what is not.
var texts = []string{"", "1", "8 3/4 in", "22,5 cm", "-0 m", "1e400 mm", "nan kg", "41#", "A", "B", "X", "10", "122", "x\x00", "9999999999999999999 lb", "level_db", "old",
	"180 N", "24 g", "57.3 m/s", "18 °C", "1013 hPa", "2.5 deg", "16 ms", "48 J", "9 N/mm", "600", "button", "brace_height", "hmpe", "18 m"}

func (g gen) text() string {
	return texts[g.rng.IntN(len(texts))]
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
			n := []int{0, 1, 2, 3, 6, 12}[g.rng.IntN(6)]
			if g.mild {
				n = 3 + 3*g.rng.IntN(3)/2
			}
			for range n {
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
		if g.sound && strings.HasPrefix(kind.Name(), "Estimate[") {
			ordered(v)
		}
	case reflect.Pointer:
		if deep < 4 && g.rng.IntN(2) == 0 {
			v.Set(reflect.New(kind.Elem()))
			v.Elem().Set(g.value(kind.Elem(), deep+1))
		}
	case reflect.Func:
		g.sound = true
		v.Set(reflect.MakeFunc(kind, func([]reflect.Value) (out []reflect.Value) {
			for i := range kind.NumOut() {
				out = append(out, g.value(kind.Out(i), deep+1))
			}
			return out
		}))
	}
	return v
}

// ordered makes an estimate well-formed.
func ordered(v reflect.Value) {
	ends := []float64{v.FieldByName("Low").Float(), v.FieldByName("Value").Float(), v.FieldByName("High").Float()}
	slices.Sort(ends)
	for i, field := range []string{"Low", "Value", "High"} {
		v.FieldByName(field).SetFloat(ends[i])
	}
	if level := v.FieldByName("Level"); level.IsValid() {
		level.SetFloat(0.95)
	}
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
	all, used := tried(), map[string]bool{}
	for _, pkg := range packages {
		for _, name := range api(t, pkg) {
			_, known := all[name]
			why, left := passedOver[name]
			used[name] = true
			if owner, method, ok := ownerOf(name); !left && ok {
				for _, whole := range []string{owner + ".*", "*." + method} {
					if w, there := passedOver[whole]; there {
						why, left, used[whole] = w, !known || whole == owner+".*", true
					}
				}
			}
			switch {
			case known && left:
				t.Errorf("%s is tried and passed over (%s)", name, why)
			case !known && !left:
				t.Errorf("%s is not tried on edge values: add it to entries, or say in passedOver why not", name)
			}
		}
	}
	for name := range passedOver {
		if !used[name] {
			t.Errorf("%s is passed over, and there is no such function", name)
		}
	}
}

// ownerOf takes pkg.Type.Method apart.
func ownerOf(name string) (owner, method string, ok bool) {
	at := strings.LastIndex(name, ".")
	return name[:at], name[at+1:], strings.Count(name, ".") == 2
}

// api lists a package's exported functions and methods that give anything.
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
			if name, ok := gives(d); ok {
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

// gives names an exported function that gives anything.
func gives(d ast.Decl) (string, bool) {
	f, ok := d.(*ast.FuncDecl)
	if !ok || !f.Name.IsExported() || f.Type.Results == nil {
		return "", false
	}
	if f.Recv == nil {
		return f.Name.Name, true
	}
	owner := receiver(f.Recv.List[0].Type)
	return owner + "." + f.Name.Name, ast.IsExported(owner)
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
