// Package ways spells ways out of a folder, for tests of whatever takes a name.
package ways

import "strings"

// Out gives some three hundred spellings: dots and slashes as they are, in
// percent and doubled percent, in overlong and broken UTF-8, in full width,
// with semicolons and NULs; one, four and seven folders up.
func Out() (out []string) {
	dots := []string{"..", "%2e%2e", "%2E.", ".%2e", "%252e%252e", "..%00", "..;", "%c0%ae%c0%ae", "．．", "..%5c..", "....", "..\\..", "%uff0e%uff0e", "..%ff"}
	slashes := []string{"/", "//", "%2f", "%5c", "%252f", "%c0%af", "\\"}
	targets := []string{"etc/passwd", "notebook.db", "lock"}
	for _, dot := range dots {
		for _, slash := range slashes {
			for k, target := range targets {
				out = append(out, strings.Repeat(dot+slash, 1+3*k)+target)
			}
		}
	}
	return out
}
