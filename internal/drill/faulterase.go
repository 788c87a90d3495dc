//go:build unix

package drill

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"tautline/notebook"
)

// parting is the club in whose notebook one archer is erased.
type parting struct {
	house   *house
	base    string // as a kill left it
	before  *Contents
	writer  Writer          // the owner's
	words   []string        // that only what is of her holds
	sounds  map[string]bool // hers
	erasure *Sent
}

// goes is the archer who is erased.
const goes = "ingeborg"

// prepareErasing makes a club of an owner and an archer with a bow each.
func (d *faulty) prepareErasing(ctx context.Context) error {
	h := newHouse(d.r, "file")
	if err := h.open(ctx); err != nil {
		return err
	}
	defer h.p.Kill()
	if err := h.joins(ctx, "owner", ownersLink.FindString(h.p.Said())); err != nil {
		return err
	}
	a := h.ask(ctx, h.guests["owner"], "PUT", "/api/v1/invitations/"+string(notebook.NewID()), obj{"name": goes, "role": "archer"})
	if err := h.joins(ctx, goes, a.field("path")); err != nil {
		return err
	}
	p := &parting{house: h, base: h.p.Data, sounds: map[string]bool{}}
	hers, err := p.writes(ctx, goes, "bow", "set-up", "reading", "upload", "recording")
	if err != nil {
		return err
	}
	for _, s := range hers.Ledger.Acked() {
		if s.Hash != "" {
			p.sounds[s.Hash] = true
		}
	}
	p.words = []string{goes, fmt.Sprintf("writer %d, ", hers.number)}
	owners, err := p.writes(ctx, "owner", "bow", "set-up", "reading")
	if err != nil {
		return err
	}
	p.writer = *owners
	p.erasure = &Sent{Method: "POST", Path: "/api/v1/people/" + h.guests[goes].id + "/erasure", Body: compact(obj{"name": goes})}
	h.p.Kill() // what she wrote stands in the journal too, and stays there until that is emptied
	p.before, err = ReadFolder(ctx, p.base)
	d.parting = p
	return err
}

// writes is what somebody wrote down.
func (p *parting) writes(ctx context.Context, who string, kinds ...string) (*Writer, error) {
	w := NewWriter(p.house.p, NewLedger(), p.house.r.Random())
	w.Cookie, w.Sound = p.house.guests[who].cookie, 1000
	w.HTTP.Transport = forwarded{p.house, w.HTTP.Transport}
	for _, kind := range kinds {
		w.pending = w.made(kind)
		if err := w.Write(ctx); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// confirms says again, as the owner, who asks: only then somebody is erased.
func (t *try) confirms(ctx context.Context) error {
	owner := t.d.parting.house.guests["owner"]
	return t.w.send(ctx, &Sent{Method: "POST", Path: "/api/v1/account/confirm", Body: compact(obj{"password": owner.password})})
}

// judgeErase: she is there with all that is hers, or nothing of her is; once it
// is acknowledged no byte of her is left, and neither is after the next start,
// whether it was acknowledged or not.
func (t *try) judgeErase(ctx context.Context) {
	gone := t.gone(ctx)
	if t.acked {
		t.nameless("acknowledged")
	}
	if t.acked && !gone {
		t.fail("acknowledged, and she is still there")
	}
	if err := t.p.Start(ctx); err != nil {
		t.fail("afterwards: %v", err)
		return
	}
	defer t.p.Kill()
	if !gone {
		again := *t.d.parting.erasure
		if err := errors.Join(t.confirms(ctx), t.w.send(ctx, &again)); err != nil {
			t.fail("erased again: %v", err)
		}
	}
	t.p.Kill()
	if !t.gone(ctx) {
		t.fail("erased again, and she is still there")
	}
	t.nameless("after the next start")
}

// gone tells whether her records are gone, and demands that all or none are,
// and that what others have is as it was.
func (t *try) gone(ctx context.Context) bool {
	p, c := t.d.parting, t.state(ctx)
	here, away := 0, 0
	for key, row := range p.before.Rows {
		now, there := c.Rows[key]
		switch hers := bytes.Contains(row.Body, []byte(p.house.guests[goes].id)); {
		case hers && there:
			here++
		case hers:
			away++
		case !bytes.Equal(now.Body, row.Body):
			t.fail("%s %s of others is no longer what it was", row.Table, key)
		}
	}
	if here > 0 && away > 0 || here+away == 0 {
		t.fail("%d of her records are there, and %d are gone", here, away)
	}
	return here == 0
}

// nameless demands that no byte in the folder is of her.
func (t *try) nameless(when string) {
	err := filepath.WalkDir(t.p.Data, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		if t.d.parting.sounds[e.Name()] {
			t.fail("%s, the sound file %s is still there", when, path)
		}
		text, err := os.ReadFile(path)
		for _, word := range t.d.parting.words {
			if bytes.Contains(bytes.ToLower(text), []byte(word)) {
				t.fail("%s, %q still stands in %s", when, word, path)
			}
		}
		return err
	})
	if err != nil {
		t.fail("%v", err)
	}
}
