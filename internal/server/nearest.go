package server

import (
	"reflect"
	"slices"
)

// nearestName is the known field that takes the fewest changes to a mistyped
// one.
func nearestName(name string, fields map[string]reflect.Type) string {
	names := make([]string, 0, len(fields))
	for n := range fields {
		names = append(names, n)
	}
	slices.Sort(names)
	best, least := "", 1<<30
	for _, n := range names {
		if d := edits(escaped(name), n); d < least {
			best, least = n, d
		}
	}
	return best
}

// edits is Levenshtein's distance.
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := corner
			if a[i] != b[j] {
				cost++
			}
			corner = row[j+1]
			row[j+1] = min(cost, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}
