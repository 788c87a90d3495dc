package trust

import (
	"bytes"
	_ "embed"
	"html/template"
	"net/http"
	"strings"
)

// Where the page and what belongs to it lie.
const (
	PagePath  = "/trust"
	CertPath  = "/trust/ca.crt"
	stylePath = "/trust/page.css"
)

// certType makes phones offer to install the file; under any other type iOS
// shows or saves it.
const certType = "application/x-x509-ca-cert"

//go:embed page.html
var pageText string

//go:embed page.css
var style []byte

var pageTemplate = template.Must(template.New("trust").Parse(pageText))

// pagePolicy is stricter than that of the notebook's pages: no script at all.
const pagePolicy = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// Page walks a person through trusting the certificate on a phone. address is
// where the notebook itself is. It answers nothing but itself, its style and
// the certificate, without login, and holds nothing secret: it may be served
// in the clear.
func (a *Authority) Page(address string) (http.Handler, error) {
	var page bytes.Buffer
	if err := pageTemplate.Execute(&page, struct{ Address, Help, Cert, Style, Name, Fingerprint string }{
		address, strings.TrimSuffix(address, "/") + "/help/on-the-phone", CertPath, stylePath, a.cert.Subject.CommonName, a.Fingerprint(),
	}); err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+PagePath, still("text/html; charset=utf-8", page.Bytes()))
	mux.HandleFunc("GET "+stylePath, still("text/css; charset=utf-8", style))
	mux.HandleFunc("GET "+CertPath, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Disposition", `attachment; filename="tautline-notebook.crt"`)
		still(certType, a.DER())(w, r)
	})
	return mux, nil
}

func still(kind string, body []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		h := w.Header()
		h.Set("Content-Type", kind)
		h.Set("Content-Security-Policy", pagePolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		if _, err := w.Write(body); err != nil {
			return // the client has gone
		}
	}
}

// Door is what the plain-http port answers: the page, the way to it from "/",
// and nothing of the notebook.
func Door(page http.Handler) http.Handler {
	mux := http.NewServeMux()
	mux.Handle(PagePath, page)
	mux.Handle(PagePath+"/", page)
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, PagePath, http.StatusSeeOther)
	})
	return mux
}
