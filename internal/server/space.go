package server

import "fmt"

// SpaceStanding is the room on the disk that holds the notebook.
type SpaceStanding struct {
	Free  int64 // bytes; negative if unknown
	Total int64 // bytes of the whole disk
	Low   bool  // so little that the owner should see to it
}

// spaceView is the room that is left, when it is little.
type spaceView struct {
	Free int64  `json:"free_bytes" doc:"On the disk that holds the notebook." example:"310000000"`
	Says string `json:"says" doc:"How much is left, and what happens when it is used up." example:"Only 310 MB are free on the notebook's disk."`
	Hint string `json:"hint" doc:"What to do."`
}

// space is nil while there is room enough, or nobody looks (bars.md T5).
func (s *server) space() *spaceView {
	if s.Space == nil {
		return nil
	}
	now := s.Space()
	if !now.Low {
		return nil
	}
	free := fmt.Sprintf("%d MB", now.Free/1_000_000)
	if now.Free >= 10_000_000_000 {
		free = fmt.Sprintf("%d GB", now.Free/1_000_000_000)
	}
	return &spaceView{now.Free, "Only " + free + " are free on the notebook's disk. When it is full, recordings and readings wait on the devices that made them.",
		"On the machine that runs the notebook, make some room; tautline doctor says what may go."}
}
