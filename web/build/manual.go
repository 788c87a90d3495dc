package main

import (
	"encoding/json"
	"strings"

	"github.com/evanw/esbuild/pkg/api"

	"tautline/docs"
)

// manualPages lets the pages import the manual: "manual:" and the name of a
// part is the list of its pages, "manual:contents" the list of all without
// their text. Each part that is imported lazily is a file of its own.
var manualPages = api.Plugin{Name: "manual", Setup: func(build api.PluginBuild) {
	build.OnResolve(api.OnResolveOptions{Filter: "^manual:"}, func(args api.OnResolveArgs) (api.OnResolveResult, error) {
		return api.OnResolveResult{Path: strings.TrimPrefix(args.Path, "manual:"), Namespace: "manual"}, nil
	})
	build.OnLoad(api.OnLoadOptions{Filter: ".*", Namespace: "manual"}, func(args api.OnLoadArgs) (api.OnLoadResult, error) {
		list := []docs.Page{}
		for _, p := range docs.Pages() {
			if args.Path == "contents" {
				p.Text = ""
			} else if args.Path != p.Part {
				continue
			}
			list = append(list, p)
		}
		text, err := json.Marshal(list)
		made := string(text)
		return api.OnLoadResult{Contents: &made, Loader: api.LoaderJSON}, err
	})
}}
