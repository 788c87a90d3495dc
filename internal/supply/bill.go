package supply

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"os"
	"strings"
)

// Bill is a CycloneDX 1.6 document (ECMA-424), the part of it that is used
// here. It has no time and no serial number, so that the same program always
// gives the same bytes.
type Bill struct {
	Format     string `json:"bomFormat"`
	Spec       string `json:"specVersion"`
	Version    int    `json:"version"`
	Metadata   about  `json:"metadata"`
	Components []part `json:"components"`
}

type about struct {
	Component part `json:"component"`
}

type part struct {
	Type       string     `json:"type"`
	Ref        string     `json:"bom-ref,omitempty"`
	Name       string     `json:"name"`
	Version    string     `json:"version,omitempty"`
	PURL       string     `json:"purl,omitempty"`
	Hashes     []hash     `json:"hashes,omitempty"`
	Licences   []licensed `json:"licenses,omitempty"`
	Properties []property `json:"properties,omitempty"`
}

type hash struct {
	Alg     string `json:"alg"`
	Content string `json:"content"`
}

type licensed struct {
	Licence    *licence `json:"license,omitempty"`
	Expression string   `json:"expression,omitempty"`
}

type licence struct {
	ID   string `json:"id"`
	Text *words `json:"text,omitempty"`
}

type words struct {
	Content string `json:"content"`
}

type property struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// BillOf reads a built program and says what is in it: its Go modules as the
// program itself states them, Go's own library, and the page bundle's packages
// from the lock file of the source folder root it was built from.
func BillOf(file, root string) (Bill, error) {
	raw, err := os.ReadFile(file)
	if err != nil {
		return Bill{}, err
	}
	inside, info, err := InBinary(file)
	if err != nil {
		return Bill{}, err
	}
	known, err := Modules(root)
	if err != nil {
		return Bill{}, err
	}
	pages, err := Pages(root)
	if err != nil {
		return Bill{}, err
	}
	sum := sha256.Sum256(raw)
	b := Bill{Format: "CycloneDX", Spec: "1.6", Version: 1}
	b.Metadata.Component = part{Type: "application", Ref: info.Main.Path, Name: info.Main.Path, Version: info.Main.Version,
		Hashes: []hash{{"SHA-256", hex.EncodeToString(sum[:])}}, Licences: []licensed{{Licence: &licence{ID: "Apache-2.0"}}}}
	goVersion := strings.TrimPrefix(info.GoVersion, "go")
	b.Components = []part{partOf(Component{Kind: "golang", Name: "stdlib", Version: goVersion, Licences: []string{"BSD-3-Clause"}})}
	for _, c := range inside {
		if c.Licences, c.Text, err = licencesOf(known, c); err != nil {
			return Bill{}, err
		}
		b.Components = append(b.Components, partOf(c))
	}
	for _, c := range pages {
		if !c.Tool {
			b.Components = append(b.Components, partOf(c))
		}
	}
	carried, err := Carried(root)
	if err != nil {
		return Bill{}, err
	}
	for _, c := range carried {
		b.Components = append(b.Components, partOf(c))
	}
	return b, nil
}

func licencesOf(known []Component, c Component) ([]string, string, error) {
	for _, k := range known {
		if k.Name == c.Name && k.Version == c.Version {
			return k.Licences, k.Text, nil
		}
	}
	return nil, "", fmt.Errorf("the program holds %s %s, which this source folder does not: was it built from here?", c.Name, c.Version)
}

func partOf(c Component) part {
	p := part{Type: "library", Ref: c.URL(), Name: c.Name, Version: c.Version, PURL: c.URL()}
	switch {
	case c.Kind == "golang" && c.Sum != "":
		p.Properties = []property{{"tautline:go.sum", c.Sum}}
	case strings.HasPrefix(c.Sum, "sha512-"):
		if raw, err := base64.StdEncoding.DecodeString(c.Sum[len("sha512-"):]); err == nil {
			p.Hashes = []hash{{"SHA-512", hex.EncodeToString(raw)}}
		}
	}
	expression := len(c.Licences) > 1 || strings.Contains(c.Licences[0], " ")
	if expression { // the format takes an expression or licences, and never both
		p.Licences = []licensed{{Expression: joined(c.Licences)}}
		p.Properties = append(p.Properties, property{"tautline:licence text", c.Text})
		return p
	}
	p.Licences = []licensed{{Licence: &licence{ID: c.Licences[0]}}}
	if c.Text != "" {
		p.Licences[0].Licence.Text = &words{c.Text}
	}
	return p
}

// joined writes several licences as one SPDX expression.
func joined(licences []string) string {
	out := make([]string, len(licences))
	for i, l := range licences {
		if strings.Contains(l, " ") && len(licences) > 1 {
			l = "(" + l + ")"
		}
		out[i] = l
	}
	return strings.Join(out, " AND ")
}
