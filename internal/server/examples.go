package server

import (
	_ "embed"
	"encoding/json"
	"fmt"

	"github.com/danielgtaylor/huma/v2"
)

// exampleFile holds one exchange for every operation, written by the test that
// writes docs/manual/api.md, from the same requests and answers.
//
//go:embed examples.json
var exampleFile []byte

// Example is one exchange: what was sent, and what came of it. A body that is
// no JSON is a text; of a sound and the like there is none.
type Example struct {
	Parameters map[string]string `json:"parameters,omitempty"` // by name, as they stood in the address
	Request    json.RawMessage   `json:"request,omitempty"`
	Status     string            `json:"status"`
	Answer     json.RawMessage   `json:"answer,omitempty"`
}

// illustrate puts the examples into the description.
func illustrate(api *huma.OpenAPI) error {
	var all map[string]Example
	if err := json.Unmarshal(exampleFile, &all); err != nil {
		return fmt.Errorf("server: the examples of the API: %w", err)
	}
	for path, item := range api.Paths {
		for _, op := range []*huma.Operation{item.Get, item.Put, item.Patch, item.Post, item.Delete} {
			if op != nil {
				all[op.Method+" "+path].into(op)
			}
		}
	}
	return nil
}

func (e Example) into(op *huma.Operation) {
	for _, p := range op.Parameters {
		if text, ok := e.Parameters[p.Name]; ok && p.Example == nil {
			p.Example = typed(text, p.Schema)
		}
	}
	if op.RequestBody != nil {
		show(op.RequestBody.Content, e.Request)
	}
	for _, status := range []string{"200", "201", e.Status} {
		if answer := op.Responses[status]; answer != nil {
			show(answer.Content, e.Answer)
		}
	}
}

func show(content map[string]*huma.MediaType, example json.RawMessage) {
	for _, media := range content {
		if len(example) > 0 {
			media.Example = example
		}
	}
}

// typed is a parameter's text as JSON of its own kind.
func typed(text string, schema *huma.Schema) any {
	if schema != nil && schema.Type != huma.TypeString && json.Valid([]byte(text)) {
		return json.RawMessage(text)
	}
	return text
}
