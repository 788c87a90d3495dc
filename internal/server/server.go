package server

import (
	"context"
	"encoding/json"
	"net/http"
	"reflect"
	"sync"
	"sync/atomic"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"tautline/internal/figure"
	"tautline/workbench"
)

// server holds what the handlers share.
type server struct {
	Config
	counts   counters
	tally    tally
	owner    owner
	models   memory[*workbench.BowModel]
	sweeps   memory[workbench.Sweep]
	work     progress
	targets  memory[*workbench.TargetModel]
	hearings hearings
	ear      ear
	verdicts verdicts
	fits     memory[*workbench.FittedBow] // the last of each bow, to begin the next from
	queue    *queue
	keeping  *gate
	reading  *gate
	held     atomic.Int64 // bytes set aside for bodies that arrive
	quota    quota
	club     *club // nil without accounts
	changes  changeCount
	people   people
	latest   latest
	rounds   rounds
	fixes    corrections
	ends     endShelf
	told     memory[any]     // large answers, by all that they come from
	bench    memory[benched] // bows' pages, by who looks and the bow
	works    works
	arriving arriving
	refits   refits
	slopes   slopeShelf
	weeks    weekShelf
	mux      *http.ServeMux
	app      *app
	openAPI  func() ([]byte, error) // made when it is first asked for
}

// Server is the handler of the whole server.
type Server struct {
	http.Handler
	server *server
}

// Close ends the work that goes on between requests, and waits for what writes
// the notebook; close the notebook after it.
func (s *Server) Close() {
	s.server.works.stop()
	s.server.refits.close()
	if club := s.server.club; club != nil {
		club.guesses.wait()
		club.audit.flush()
	}
}

// New builds the handler of the whole server: API, pages and help, behind
// their guards.
func New(c Config) (*Server, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	s := &server{Config: c.withDefaults(), mux: http.NewServeMux()}
	s.keeping, s.reading = newGate(s.Cores, mostKeeping), newGate(s.Cores, mostReading)
	s.queue, s.works.spare = newQueue(s.Cores, s.idle), s.idle
	s.Notebook = counting{s.Notebook, &s.changes}
	s.told.most, s.bench.most, s.sweeps.most = mostTold, mostBenched, mostSweeps
	s.club = newClub(s.Config)
	var err error
	if s.app, err = newApp(c.App); err != nil {
		return nil, err
	}
	api := humago.New(s.mux, s.describe())
	s.routes(s.mux, api)
	orNull(api, "Block", "Figure", "Table")
	orNull(api, "GroupShown", "score", "rings")
	orNull(api, "TrialVerdict", "comparison")
	s.openAPI = sync.OnceValues(func() ([]byte, error) {
		if err := illustrate(api.OpenAPI()); err != nil {
			return nil, err
		}
		return json.Marshal(api.OpenAPI())
	})
	guarded := s.hardened(s.watched(s.outer(knownHost(s.Hosts, sameOrigin(plainAddress(jsonOnly(s.shedding(s.admitted(s.mux)))))))))
	return &Server{guarded, s}, nil
}

// describe starts the API's description. Its own documentation pages would
// fetch scripts from elsewhere and are left out.
func (s *server) describe() huma.Config {
	c := huma.DefaultConfig("Tautline", s.Version)
	c.Info.Description = "The bench instrument and notebook of a recurve archer. Creates are PUTs with an id (UUIDv7) made by the client: " +
		"sending one again is harmless. Quantities are texts with their unit, as people write them; numbers are SI. " +
		"Every refusal is application/problem+json."
	c.OpenAPIPath, c.DocsPath, c.SchemasPath = "", "", ""
	c.CreateHooks = nil
	c.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[figure.Number](), reflect.TypeFor[numberOrNull]())
	c.Transformers = []huma.Transformer{func(ctx huma.Context, _ string, v any) (any, error) {
		if p, ok := v.(*Problem); ok && p.Instance == "" {
			p.Instance = ctx.URL().Path
		}
		return v, nil
	}}
	return c
}

// numberOrNull describes a number that is null where there is none.
type numberOrNull float64

// Schema describes it.
func (numberOrNull) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeNumber, Nullable: true, Format: "double"}
}

// orNull describes structures that are null where there is none, which the
// API library leaves out.
func orNull(api huma.API, schema string, fields ...string) {
	properties := api.OpenAPI().Components.Schemas.Map()[schema].Properties
	for _, name := range fields {
		properties[name] = &huma.Schema{AnyOf: []*huma.Schema{properties[name], {Type: "null"}}}
	}
}

// serveOpenAPI answers with the description.
func (s *server) serveOpenAPI(w http.ResponseWriter, r *http.Request) {
	description, err := s.openAPI()
	if err != nil {
		s.Log.Error("describing the API", "error", err)
		writeProblem(w, r, internalProblem())
		return
	}
	w.Header().Set("Content-Type", "application/openapi+json")
	w.Header().Set("Cache-Control", "no-cache")
	if _, err := w.Write(description); err != nil {
		return // the client has gone
	}
}

// pages serves the app at every address that is not the API's.
func (s *server) pages(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		s.noRoute(w, r)
		return
	}
	s.app.ServeHTTP(w, r)
}

// noRoute answers what no route takes: 405 with Allow where another method
// would do, else 404.
func (s *server) noRoute(w http.ResponseWriter, r *http.Request) {
	allow := s.methods(r)
	if allow == "" {
		writeProblem(w, r, newProblem(http.StatusNotFound, codeNotFound, "There is nothing at this address.", "The routes are listed in "+openAPIPath+"."))
		return
	}
	w.Header().Set("Allow", allow)
	writeProblem(w, r, newProblem(http.StatusMethodNotAllowed, codeMethod, "This address does not take "+r.Method+".", "It takes "+allow+"."))
}

// methods lists what else could be asked at the request's address.
func (s *server) methods(r *http.Request) string {
	allow := ""
	if !isAPI(r.URL.Path) {
		return http.MethodGet
	}
	for _, method := range []string{http.MethodGet, http.MethodPut, http.MethodPatch, http.MethodPost, http.MethodDelete} {
		other := r.Clone(context.Background())
		other.Method = method
		if _, pattern := s.mux.Handler(other); pattern != "" && pattern != "/" && pattern != "/api/" && method != r.Method {
			if allow != "" {
				allow += ", "
			}
			allow += method
		}
	}
	return allow
}
