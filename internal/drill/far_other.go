//go:build unix && !(linux && amd64)

package drill

import "context"

type far struct{}

func (r *Run) farAway(context.Context) (*far, error) {
	return nil, Skipf("network namespaces are Linux's, and entered on amd64 only")
}

func (f *far) move(*Program) {}
