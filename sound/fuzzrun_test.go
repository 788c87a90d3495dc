package sound_test

import (
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"testing"
	"time"
)

// TestFuzzTargets fuzzes every decoder for as long as TAUTLINE_FUZZ says:
//
//	TAUTLINE_FUZZ=5m go test -run TestFuzzTargets -timeout 60m -v ./sound
//
// By default Go's fuzzer can spend its time minimising and run nothing at
// all, and then "clean" means nothing: at least 20 executions a second are
// demanded, a tenth of what one idle core does on the slowest target.
func TestFuzzTargets(t *testing.T) {
	text := os.Getenv("TAUTLINE_FUZZ")
	if text == "" {
		t.Skip("set TAUTLINE_FUZZ=5m to fuzz each decoder for five minutes")
	}
	d, err := time.ParseDuration(text)
	if err != nil {
		t.Fatal(err)
	}
	counted := regexp.MustCompile(`execs: (\d+)`)
	for _, target := range []string{"FuzzWAV", "FuzzFLAC", "FuzzOgg", "FuzzOggMended", "FuzzMP3"} {
		t.Run(target, func(t *testing.T) {
			cmd := exec.Command("go", "test", "-run", "^$", "-fuzz", "^"+target+"$", "-fuzztime", text, "-fuzzminimizetime", "10x", "-parallel", "1", ".")
			out, err := cmd.CombinedOutput()
			if err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			execs := 0
			for _, m := range counted.FindAllSubmatch(out, -1) {
				execs, err = strconv.Atoi(string(m[1]))
				if err != nil {
					t.Fatal(err)
				}
			}
			t.Logf("%d executions, %.0f a second", execs, float64(execs)/d.Seconds())
			if float64(execs) < 20*d.Seconds() {
				t.Errorf("only %d executions in %v", execs, d)
			}
		})
	}
}
