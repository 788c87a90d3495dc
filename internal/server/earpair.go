package server

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"tautline/notebook"
	"tautline/workbench"
)

// pairInput names two settings: the recordings of each, and the stop in them.
type pairInput struct {
	A     string `query:"a" required:"true" doc:"Recordings of the first setting, ids with commas between." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	AStop string `query:"a_stop" doc:"Only the shots of this stop or setting in them, from 0." example:"0"`
	B     string `query:"b" required:"true" doc:"Recordings of the second setting." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	BStop string `query:"b_stop" doc:"Only the shots of this stop or setting in them, from 0." example:"1"`
}

// mostInPair is how many recordings a setting may have.
const mostInPair = 24

// sides listens to the recordings of both settings. The key holds all that an
// answer depends on.
func (s *server) sides(ctx context.Context, in *pairInput) (sides [2]workbench.SoundSide, key string, err error) {
	for i, ask := range [2][3]string{{in.A, in.AStop, "a"}, {in.B, in.BStop, "b"}} {
		ids := strings.Split(ask[0], ",")
		if len(ids) > mostInPair {
			return sides, "", &notebook.Error{Code: notebook.Invalid, Field: ask[2], Message: fmt.Sprintf("%d recordings are too many for one setting", len(ids)), Hint: fmt.Sprintf("at most %d", mostInPair)}
		}
		side := workbench.SoundSide{Open: s.opener}
		if side.Stop, err = optionalStop(ask[2]+"_stop", ask[1]); err != nil {
			return sides, "", err
		}
		for _, id := range ids {
			heard, err := s.heardOf(ctx, strings.TrimSpace(id))
			if err != nil {
				return sides, "", err
			}
			part, err := sideKey(heard)
			if err != nil {
				return sides, "", err
			}
			key += part
			side.Heard = append(side.Heard, heard)
		}
		key += "|stop " + ask[1] + "|"
		side.Name = sideName(side)
		sides[i] = side
	}
	return sides, key, nil
}

// sideKey is what of a recording a comparison depends on: its sound, where
// its shots and stops are, and how it was made.
func sideKey(h workbench.Heard) (string, error) {
	hearing, err := hearingKey(h.Recording, h.Onsets)
	if err != nil {
		return "", err
	}
	r := h.Recording
	ties := ""
	if h.Onsets != nil {
		ties = string(h.Onsets.ID)
	}
	return fmt.Sprintf("%s|%s|%s|%q|%q|%q|%t|", r.ID, hearing, ties, r.Phone, r.Where, r.Place, r.Treated), nil
}

// sideName says which setting it is.
func sideName(s workbench.SoundSide) string {
	name := s.Heard[0].Recording.Name
	if name == "" {
		name = "recording"
	}
	if n := len(s.Heard); n > 1 {
		name = fmt.Sprintf("%s and %d more", name, n-1)
	}
	what := "setting"
	if s.Heard[0].Recording.Trial != "" {
		what = "stop"
	}
	if s.Stop != nil {
		return fmt.Sprintf("%s %d of %s", what, *s.Stop+1, name)
	}
	return name
}

func (s *server) getComparison(ctx context.Context, in *pairInput) (*found[comparisonView], error) {
	sides, key, err := s.sides(ctx, in)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	pair, err := recalled(ctx, s, "pair|"+key, func(ctx context.Context) (workbench.SoundPair, error) {
		return workbench.ComparePair(ctx, sides[0], sides[1])
	})
	if err != nil {
		return nil, err
	}
	return &found[comparisonView]{Body: viewPair(pair, [2]string{sides[0].Name, sides[1].Name}, system)}, nil
}

func (s *server) getPair(ctx context.Context, in *pairInput) (*fileOutput, error) {
	sides, key, err := s.sides(ctx, in)
	if err != nil {
		return nil, err
	}
	wav, err := recalled(ctx, s, "play|"+key, func(ctx context.Context) ([]byte, error) {
		var out bytes.Buffer
		err := workbench.WritePair(ctx, &out, sides[0], sides[1])
		return out.Bytes(), err
	})
	if err != nil {
		return nil, err
	}
	return playable(wav), nil
}
