// Package docs is the manual inside the program: every page below this folder,
// with the links between them turned into addresses of the help, in the order
// in which they are listed there. The pages show it under /help, the command
// line by `tautline manual`.
package docs

import (
	"embed"
	"io/fs"
	"path"
	"regexp"
	"strings"
	"sync"

	"tautline/examples"
	"tautline/packaging"
)

//go:embed *.md manual/*.md theory/*.md decisions/*.md
var files embed.FS

// Page is one page of the manual.
type Page struct {
	Name  string `json:"name"` // its address is /help/NAME
	Title string `json:"title"`
	Group string `json:"group"` // the heading it stands under in the contents
	Part  string `json:"part"`  // "manual", "why" or "programs": what the pages load together
	Text  string `json:"text"`  // Markdown
	file  string
}

// The parts of the manual: what an archer, a coach or an owner reads; why it is
// computed and built as it is; what only programs and programmers want.
const (
	PartManual   = "manual"
	PartWhy      = "why"
	PartPrograms = "programs"
)

const (
	toLookUp     = "Look something up"
	groupOfFiles = "Files"
)

// Start is the page that says what to read in which order.
const Start = "start"

// contents are the groups of pages in their order; a name with a star stands
// for the rest that fit it.
var contents = []struct {
	group, part string
	files       []string
}{
	{"Begin", PartManual, []string{"manual/start.md", "manual/tutorial.md", "manual/first-evening.md"}},
	{"Do something", PartManual, []string{"manual/how-to.md", "manual/at-the-target.md", "manual/plot-and-compare.md", "manual/sound.md", "manual/fitted-bow.md", "manual/does-it-still-count.md", "manual/on-the-phone.md", "manual/club.md"}},
	{toLookUp, PartManual, []string{"manual/errors.md", "manual/command-line.md", "manual/notebook-format.md"}},
	{"Why it is computed like this", PartWhy, []string{"theory/bow.md", "theory/shot.md", "theory/arrow.md", "theory/flight.md", "theory/forgiveness.md", "theory/vertical.md", "theory/sound.md", "theory/groups.md", "theory/trials.md", "theory/fit.md", "theory/standing.md"}},
	{"For owners who want to know more", PartWhy, []string{"security.md", "licences.md", "drills.md"}},
	{"For programmers", PartPrograms, []string{"manual/api.md", "theory/*_fidelity.md", "decisions/*.md", "packages.md"}},
}

// Pages are all pages in the order of the contents.
var Pages = sync.OnceValue(func() (list []Page) {
	for _, g := range contents {
		for _, pattern := range g.files {
			for _, file := range matching(files, pattern) {
				text := read(files, file)
				title, _, _ := strings.Cut(strings.TrimPrefix(text, "# "), "\n")
				list = append(list, Page{Name: nameOf(file), Title: Words(title), Group: g.group, Part: g.part, Text: text, file: "docs/" + file})
			}
		}
	}
	list = append(list, shown("examples", examples.Files)...)
	list = append(list, shown("packaging", packaging.Files)...)
	for i := range list {
		list[i].Text = linked(&list[i], list)
	}
	return list
})

// matching are the files that fit a pattern; without any the program was built
// wrong, which the first test finds.
func matching(from fs.FS, pattern string) []string {
	found, err := fs.Glob(from, pattern)
	if err != nil || len(found) == 0 {
		panic("docs: no page fits " + pattern)
	}
	return found
}

func read(from fs.FS, file string) string {
	raw, err := fs.ReadFile(from, file)
	if err != nil {
		panic(err) // cannot happen: it is embedded
	}
	return comment.ReplaceAllString(string(raw), "")
}

// comment is a note to whoever edits a page.
var comment = regexp.MustCompile(`(?s)<!--.*?-->\n?`)

// nameOf makes a page's name of its file's: "trials" of the theory is
// "why-trials", since the manual may have a page of that name.
func nameOf(file string) string {
	name := strings.TrimSuffix(path.Base(file), path.Ext(file))
	if path.Dir(file) == "theory" {
		return "why-" + strings.ReplaceAll(name, "_", "-")
	}
	return name
}

// shown makes pages of files that are not prose: they are shown as they stand.
func shown(folder string, from fs.FS) (list []Page) {
	for _, file := range matching(from, "*.*") {
		body := strings.TrimRight(read(from, file), "\n")
		list = append(list, Page{
			Name: "file-" + nameOf(file), Title: "The file " + file, Group: groupOfFiles, Part: PartPrograms, file: folder + "/" + file,
			Text: "# The file " + file + "\n\n```\n" + body + "\n```\n",
		})
	}
	return list
}

var link = regexp.MustCompile(`\]\(([^)\s]+)\)`)

// linked turns the links of a page, which lead from file to file, into
// addresses of the help.
func linked(p *Page, all []Page) string {
	return link.ReplaceAllStringFunc(p.Text, func(found string) string {
		to, place, _ := strings.Cut(found[2:len(found)-1], "#")
		if strings.Contains(to, "://") || strings.HasPrefix(to, "/") {
			return found
		}
		address := address(p, to, all)
		if place != "" {
			address += "#" + place
		}
		return "](" + address + ")"
	})
}

// address of what a page's link leads to; a link to nowhere stays as it is,
// for the test that looks at all of them.
func address(p *Page, to string, all []Page) string {
	file := path.Join(path.Dir(p.file), to)
	for _, q := range all {
		if to == "" && q.Name == p.Name || q.file == file {
			return "/help/" + q.Name
		}
	}
	if file == "examples" {
		return "/help#files"
	}
	return to
}

// File is what a page that shows a file as it stands shows.
func (p Page) File() (body string, ok bool) {
	body, ok = strings.CutPrefix(p.Text, "# "+p.Title+"\n\n```\n")
	if !ok || p.Group != groupOfFiles {
		return "", false
	}
	return strings.TrimSuffix(body, "```\n"), true
}

// Find gives the page of a name.
func Find(name string) (Page, bool) {
	for _, p := range Pages() {
		if p.Name == name {
			return p, true
		}
	}
	return Page{}, false
}
