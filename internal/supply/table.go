package supply

import (
	"fmt"
	"strings"
)

// Table writes docs/licences.md about these packages.
func Table(list []Component) string {
	var b strings.Builder
	b.WriteString(`# Licences

Tautline is under Apache-2.0. This is what else is in the program, or builds and tests it; written by ` + "`make golden`" + ` from the licence files of each package, and
held against them by a test, which also fails for a licence that nobody has read or that does not fit. ` + "`make sbom`" + ` writes the same for a built program, with every
licence's own words, as CycloneDX: give that file along with the program.

`)
	section(&b, "In the program", list, func(c Component) bool { return !c.Tool && !c.File })
	b.WriteString(`
Go's own library and run time are BSD-3-Clause. Of FreeType's two licences the FreeType one is taken: this software uses code of the FreeType project
(www.freetype.org).

`)
	section(&b, "In the pages, as a file of its own", list, func(c Component) bool { return c.File })
	b.WriteString(`
The three make one WebAssembly file, which reads HEIC pictures in the browser. It is taken from the Go module of that name unchanged, and nothing is linked to it: to
exchange it, put another that answers the same four calls in its place (web/build/heif.go) and run ` + "`make build`" + `. The two libraries are under the GNU Lesser General Public
Licence 3; its words and those of the GPL go along in what ` + "`make sbom`" + ` writes. Their source is at github.com/strukturag.

`)
	section(&b, "Builds or tests it only", list, func(c Component) bool { return c.Tool })
	return b.String()
}

func section(b *strings.Builder, title string, list []Component, in func(Component) bool) {
	fmt.Fprintf(b, "## %s\n\n| package | version | licence |\n|---|---|---|\n", title)
	for _, c := range list {
		if in(c) {
			fmt.Fprintf(b, "| %s | %s | %s |\n", c.Name, c.Version, joined(c.Licences))
		}
	}
}
