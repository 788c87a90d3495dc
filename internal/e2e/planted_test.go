package e2e

import (
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"

	"github.com/evanw/esbuild/pkg/api"
)

// knownBugs are bugs of an outbox, each as a change of its source: what a
// drill must find if it is not blind (../shared/design/bars.md, D7).
var knownBugs = map[string]struct{ was, is string }{
	"it forgets the key": {
		`await create(first.path, first.body,`,
		`await create(first.path.replace(/[^/]+$/, uuidv7()), first.body,`,
	},
	"it marks sent before an answer": {
		`const created = await create(first.path, first.body, AbortSignal.timeout(patience));`,
		`const created: boolean | undefined = true; void create(first.path, first.body, AbortSignal.timeout(patience)).catch(() => undefined);`,
	},
}

// blamed is what a drill says that has found a bug.
var blamed = regexp.MustCompile(`[1-9]\d* (lost|doubled)`)

// spoilt gives esbuild an outbox with a bug.
func spoilt(t testing.TB, bug string) api.Plugin {
	t.Helper()
	p := knownBugs[bug]
	return api.Plugin{Name: "planted bug", Setup: func(b api.PluginBuild) {
		b.OnLoad(api.OnLoadOptions{Filter: `/lib/outbox\.ts$`}, func(args api.OnLoadArgs) (api.OnLoadResult, error) {
			raw, err := os.ReadFile(args.Path)
			text := strings.Replace(string(raw), p.was, p.is, 1)
			if err == nil && text == string(raw) {
				err = fmt.Errorf("the outbox has changed: %q is not in it", p.was)
			}
			return api.OnLoadResult{Contents: &text, Loader: api.LoaderTS}, err
		})
	}}
}

// listener is a test that a drill runs in: what fails is told to it, and fails
// nothing else.
type listener struct {
	testing.TB
	said []string
}

func (l *listener) Errorf(format string, args ...any) {
	l.said = append(l.said, fmt.Sprintf(format, args...))
}
func (l *listener) Error(args ...any) { l.said = append(l.said, fmt.Sprint(args...)) }
func (l *listener) Fatalf(format string, args ...any) {
	l.Errorf(format, args...)
	runtime.Goexit()
}
func (l *listener) Fatal(args ...any) {
	l.Error(args...)
	runtime.Goexit()
}
func (l *listener) Logf(string, ...any) {}
func (l *listener) Log(...any)          {}

// seedsToFind is how many seeds a drill may need to find a planted bug.
const seedsToFind = 4

// found runs a drill with one seed after another until it says what a bug makes
// it say.
func found(t *testing.T, bug string, drill func(l *listener, seed uint64)) {
	t.Helper()
	var all []string
	for seed := range uint64(seedsToFind) {
		l := &listener{TB: t}
		done := make(chan struct{})
		go func() {
			defer close(done)
			drill(l, seed+1)
		}()
		<-done
		all = append(all, l.said...)
		if blamed.MatchString(strings.Join(l.said, "\n")) {
			t.Logf("%s: found with seed %d", bug, seed+1)
			return
		}
	}
	t.Errorf("%s, and the drill is blind to it in %d seeds: %q", bug, seedsToFind, all)
}

// TestOutboxDrillSees: TestOutboxSessions finds each planted bug.
func TestOutboxDrillSees(t *testing.T) {
	for bug := range knownBugs {
		t.Run(bug, func(t *testing.T) {
			t.Parallel()
			script := outboxScript(t, spoilt(t, bug))
			found(t, bug, func(l *listener, seed uint64) { outboxSessions(l, 6, seed, script) })
		})
	}
}

// TestOfflineDrillSees: TestOfflineSessions, which works the real pages, finds
// each planted bug; readings alone are noted, which the drill looks for in the
// database and nowhere before.
func TestOfflineDrillSees(t *testing.T) {
	for bug := range knownBugs {
		t.Run(bug, func(t *testing.T) {
			t.Parallel()
			pages := spoiltPages(t, bug)
			found(t, bug, func(l *listener, seed uint64) {
				n := openNotebook(l)
				e := &evening{t: l, n: n, w: openWire(l, pages(n.addr)), rng: rand.New(rand.NewPCG(seed, 1000)), ends: map[string][][]hole{}, reads: map[string]int{}, did: map[string]int{}, calm: true}
				e.p = openPhone(l)
				e.newBow(0)
				for k, how := range []wireState{mute, cut} { // an evening with a bad line
					e.w.set(how)
					e.round(k)
				}
				e.home()
				e.check(2)
			})
		})
	}
}

// unneeded leaves out what decodes a phone's pictures, and the manual: nobody
// takes a picture or looks anything up here.
var unneeded = api.Plugin{Name: "unneeded", Setup: func(b api.PluginBuild) {
	b.OnResolve(api.OnResolveOptions{Filter: `^manual:`}, func(args api.OnResolveArgs) (api.OnResolveResult, error) {
		return api.OnResolveResult{Path: args.Path, Namespace: "no manual"}, nil
	})
	b.OnLoad(api.OnLoadOptions{Filter: `.`, Namespace: "no manual"}, func(api.OnLoadArgs) (api.OnLoadResult, error) {
		none := "[]"
		return api.OnLoadResult{Contents: &none, Loader: api.LoaderJSON}, nil
	})
	b.OnResolve(api.OnResolveOptions{Filter: `\.wasm\.gz$`}, func(args api.OnResolveArgs) (api.OnResolveResult, error) {
		return api.OnResolveResult{Path: args.Path, Namespace: "left out"}, nil
	})
	b.OnLoad(api.OnLoadOptions{Filter: `.`, Namespace: "left out"}, func(api.OnLoadArgs) (api.OnLoadResult, error) {
		empty := ""
		return api.OnLoadResult{Contents: &empty, Loader: api.LoaderFile}, nil
	})
}}

// spoiltPages bundles the pages with a bug in their outbox, and gives what
// stands before a program and hands them out in the place of its own.
func spoiltPages(t *testing.T, bug string) func(program string) (addr string) {
	t.Helper()
	src := filepath.Join(root, "web/src")
	built := api.Build(api.BuildOptions{
		EntryPointsAdvanced: []api.EntryPoint{{InputPath: filepath.Join(src, "main.tsx"), OutputPath: "app"}, {InputPath: filepath.Join(src, "worker.ts"), OutputPath: "worker"}},
		Outdir:              "/", Bundle: true, Splitting: true, ChunkNames: "part-[hash]", Format: api.FormatESModule, Target: api.ES2022,
		JSX: api.JSXAutomatic, JSXImportSource: "preact", AssetNames: "part-[hash]", Plugins: []api.Plugin{spoilt(t, bug), unneeded},
	})
	if len(built.Errors) > 0 {
		t.Fatal(built.Errors[0].Text)
	}
	files, parts := map[string][]byte{}, []string{}
	for _, f := range built.OutputFiles {
		name := "/" + filepath.Base(f.Path)
		files[name] = f.Contents
		if strings.HasPrefix(name, "/part-") {
			parts = append(parts, `"`+name+`"`)
		}
	}
	files["/parts.json"] = []byte("[" + strings.Join(parts, ",") + "]")
	return func(program string) string {
		own := httputil.NewSingleHostReverseProxy(&url.URL{Scheme: "http", Host: program})
		own.ErrorHandler = func(http.ResponseWriter, *http.Request, error) { panic(http.ErrAbortHandler) } // the line is cut
		srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			file, ours := files[r.URL.Path]
			if !ours {
				own.ServeHTTP(w, r)
				return
			}
			w.Header().Set("Content-Type", map[string]string{".js": "text/javascript", ".css": "text/css", ".json": "application/json", ".gz": "application/gzip"}[filepath.Ext(r.URL.Path)])
			_, _ = w.Write(file) // or the browser has gone
		}))
		t.Cleanup(srv.Close)
		_, port, err := net.SplitHostPort(srv.Listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		return "127.0.0.1:" + port
	}
}
