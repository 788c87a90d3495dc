package figure

// Layer is one part of a stack.
type Layer struct {
	Name string
	Y    []float64
}

// Stacked turns layers into curves, each with the band between the top of the
// one below and its own: the first stands on zero. The last is listed first,
// as it is seen.
func Stacked(x []float64, layers []Layer) []Line {
	floor := make([]float64, len(x))
	lines := make([]Line, 0, len(layers))
	for _, layer := range layers {
		top := make([]float64, len(x))
		for i := range top {
			top[i] = floor[i] + layer.Y[i]
		}
		lines = append(lines, Line{Name: layer.Name, Kind: Curve, X: Numbers(x), Y: Numbers(top), Low: Numbers(floor), High: Numbers(top)})
		floor = top
	}
	for i, j := 0, len(lines)-1; i < j; i, j = i+1, j-1 {
		lines[i], lines[j] = lines[j], lines[i]
	}
	return lines
}
