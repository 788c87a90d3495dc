package server

import (
	"mime"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"
)

// contentPolicy lets a page load what this server sent and nothing else; no
// inline script or style, no plugin, no frame around it.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; " +
	"media-src 'self' blob:; connect-src 'self'; font-src 'self'; manifest-src 'self'; worker-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'; " +
	"require-trusted-types-for 'script'; trusted-types tautline"

// decoderPolicy is for the worker that reads HEIC pictures alone (/heic.js): it
// may compile WebAssembly, which the pages may not, and may load nothing and
// talk to nobody.
const (
	decoderPath   = "/heic.js"
	decoderPolicy = "default-src 'none'; script-src 'wasm-unsafe-eval'; base-uri 'none'; frame-ancestors 'none'"
)

// hardened sets the browser's safety headers on every answer.
func (s *server) hardened(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		if s.keepsToTLS(r) {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		if r.Method == http.MethodPost && (r.URL.Path == apiPath+"/logout" || r.URL.Path == apiPath+"/logout-everywhere") {
			h.Set("Clear-Site-Data", `"cache"`) // recordings that were played; what is not yet sent stays
		}
		h.Set("Content-Security-Policy", contentPolicy)
		if r.URL.Path == decoderPath {
			h.Set("Content-Security-Policy", decoderPolicy)
		}
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), microphone=(self), screen-wake-lock=(self), geolocation=(), payment=(), usb=()")
		if isAPI(r.URL.Path) {
			h.Set("Cache-Control", "no-store")
		}
		next.ServeHTTP(w, r)
	})
}

// keepsToTLS reports whether browsers may be told to come back by HTTPS only:
// for a name in public, and not for the local network, where the page that hands
// out the notebook's own certificate has to be reached without it.
func (s *server) keepsToTLS(r *http.Request) bool {
	name := hostName(r.Host)
	return (r.TLS != nil || s.Proxied) && s.Trust == nil && name != "localhost" && net.ParseIP(name) == nil
}

// knownHost refuses a request that was not addressed to one of our names. A
// page on another name that resolves to this machine (DNS rebinding) is
// same-origin to the browser, so only the name tells it apart.
func knownHost(hosts []string, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !slices.Contains(hosts, hostName(r.Host)) {
			writeProblem(w, r, newProblem(http.StatusMisdirectedRequest, codeHost,
				"This notebook is not served under that name.",
				"Open it under the address that the program printed when it started."))
			return
		}
		next.ServeHTTP(w, r)
	})
}

// hostName takes the port and the brackets off a Host header.
func hostName(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return strings.ToLower(strings.Trim(host, "[]"))
}

// sameOrigin refuses changes asked for by a page of another site.
func sameOrigin(next http.Handler) http.Handler {
	p := http.NewCrossOriginProtection()
	p.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		writeProblem(w, r, newProblem(http.StatusForbidden, codeOrigin,
			"A page of another site may not change this notebook.",
			"Make the change on the notebook's own pages, or with a program that sends no Origin header."))
	}))
	return p.Handler(next)
}

// plainAddress refuses an address of the API with bytes that no text holds: a
// database may refuse them, as if it were at fault, where another finds nothing.
func plainAddress(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked, err := url.QueryUnescape(r.URL.RawQuery)
		if text := r.URL.Path + asked; isAPI(r.URL.Path) && (err != nil || !utf8.ValidString(text) || strings.Contains(text, "\x00")) {
			writeProblem(w, r, newProblem(http.StatusUnprocessableEntity, codeInvalid, "The address holds bytes that are no text.", "Write it in UTF-8, each byte that is no letter or digit as % and two digits, and no %00."))
			return
		}
		next.ServeHTTP(w, r)
	})
}

// jsonOnly demands application/json on every change. A form of another site
// cannot send it without asking first, and a mistyped client hears of it.
func jsonOnly(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if changes(r.Method) && isAPI(r.URL.Path) && !isUpload(r) && !isTable(r) {
			if !isJSON(r.Header.Get("Content-Type")) {
				writeProblem(w, r, newProblem(http.StatusUnsupportedMediaType, codeContentType,
					"The body's type is not JSON.", "Send the header Content-Type: application/json."))
				return
			}
			r.Header.Set("Content-Type", "application/json") // the API library compares the spelling
		}
		next.ServeHTTP(w, r)
	})
}

func changes(method string) bool {
	return method == http.MethodPost || method == http.MethodPut || method == http.MethodPatch
}

func isAPI(path string) bool { return strings.HasPrefix(path, "/api/") }

// isUpload reports whether the request carries a recording's own bytes,
// all or some of them.
func isUpload(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, recordingsPath+"/") &&
		(r.Method == http.MethodPut && strings.HasSuffix(r.URL.Path, "/sound") || r.Method == http.MethodPatch && strings.HasSuffix(r.URL.Path, "/upload"))
}

// isTable reports whether the request carries a table of arrows as text. A form
// of another site cannot send text/csv without asking first.
func isTable(r *http.Request) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return r.Method == http.MethodPost && r.URL.Path == readTablePath && err == nil && kind == "text/csv"
}

func isJSON(contentType string) bool {
	kind, params, err := mime.ParseMediaType(contentType)
	charset := strings.ToLower(params["charset"])
	return err == nil && kind == "application/json" && (charset == "" || charset == "utf-8")
}
