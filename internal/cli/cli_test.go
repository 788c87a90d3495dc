package cli

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The scripts in testdata run the program as a person would, in a folder that
// holds a copy of the examples.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"tautline": func() { os.Exit(Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Setup: func(env *testscript.Env) error {
			recordings, err := filepath.Abs("../../../shared/reference/recordings")
			if err != nil {
				return err
			}
			env.Setenv("RECORDINGS", recordings)
			return os.CopyFS(filepath.Join(env.WorkDir, "examples"), os.DirFS("../../examples"))
		},
		Condition: func(cond string) (bool, error) {
			_, err := os.Stat("../../../shared/reference/recordings/PROVENANCE.md")
			return cond == "recordings" && err == nil, nil
		},
	})
}
