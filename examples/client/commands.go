package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"

	"github.com/google/uuid"
)

// about is what can be changed of a bow, with its name first.
type about struct {
	ID       string `json:"id,omitempty"`
	Name     string `json:"name"`
	Notes    string `json:"notes,omitempty"`
	Style    string `json:"style,omitempty"`
	Archived bool   `json:"archived,omitempty"`
}

// bowNow is a bow with the set-up it has now.
type bowNow struct {
	Bow   about
	SetUp struct{ SetUp struct{ ID string } }
}

// printBows lists the bench.
func printBows(ctx context.Context, c *client, out io.Writer) error {
	var bench struct{ Bows []bowNow }
	if _, _, err := c.ask(ctx, http.MethodGet, "/bows", nil, "", &bench); err != nil {
		return err
	}
	for _, b := range bench.Bows {
		fmt.Fprintf(out, "%s  %s\n", b.Bow.ID, b.Bow.Name)
	}
	return nil
}

// reading is one measured value, as it is sent. A bare number would be read in
// the person's own units; better say the unit.
type reading struct {
	ID    string `json:"-"`
	Bow   string `json:"bow"`
	SetUp string `json:"setup"`
	Kind  string `json:"kind"`
	Text  string `json:"text"`
}

// addReading notes a reading on the bow's current set-up. The id is made here,
// before anything is sent: it is what makes sending again harmless.
func addReading(ctx context.Context, c *client, out io.Writer, r reading) error {
	if r.Bow == "" || r.Text == "" {
		return errors.New("add needs -bow and -text")
	}
	var bow bowNow
	if _, _, err := c.ask(ctx, http.MethodGet, "/bows/"+url.PathEscape(r.Bow), nil, "", &bow); err != nil {
		return err
	}
	r.SetUp = bow.SetUp.SetUp.ID
	if r.ID == "" {
		id, err := uuid.NewV7()
		if err != nil {
			return err
		}
		r.ID = id.String()
	}
	var stored struct{ Label, Shown string }
	status, _, err := c.ask(ctx, http.MethodPut, "/readings/"+url.PathEscape(r.ID), r, "", &stored)
	if err != nil {
		return fmt.Errorf("reading %s: %w", r.ID, err)
	}
	said := "stored"
	if status == http.StatusOK {
		said = "was stored before"
	}
	fmt.Fprintf(out, "%s  %s %s: %s\n", r.ID, stored.Label, stored.Shown, said)
	return nil
}

// printReadings lists a bow's readings, page by page: next is the cursor of the
// page after this one.
func printReadings(ctx context.Context, c *client, out io.Writer, bow string) error {
	for next := ""; ; {
		var page struct {
			Rows []struct {
				Label, Shown string
				Reading      struct{ ID, At string }
			}
			Next string
		}
		path := fmt.Sprintf("/readings?limit=%d&bow=%s", c.page, url.QueryEscape(bow))
		if next != "" {
			path += "&after=" + url.QueryEscape(next)
		}
		if _, _, err := c.ask(ctx, http.MethodGet, path, nil, "", &page); err != nil {
			return err
		}
		for _, r := range page.Rows {
			fmt.Fprintf(out, "%s  %s  %s %s\n", r.Reading.ID, r.Reading.At, r.Label, r.Shown)
		}
		if next = page.Next; next == "" {
			return nil
		}
	}
}

// rename changes a bow's name from the version that it has now. If someone
// else changed it in between, the server refuses and says what differs;
// nothing is overwritten unseen.
func rename(ctx context.Context, c *client, out io.Writer, bow, name string) error {
	if bow == "" || name == "" {
		return errors.New("rename needs -bow and -name")
	}
	var now bowNow
	_, version, err := c.ask(ctx, http.MethodGet, "/bows/"+url.PathEscape(bow), nil, "", &now)
	if err != nil {
		return err
	}
	changed := now.Bow
	changed.ID, changed.Name = "", name
	var stored about
	if _, version, err = c.ask(ctx, http.MethodPut, "/bows/"+url.PathEscape(bow)+"/about", changed, version, &stored); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s  %s, version %s\n", bow, stored.Name, version)
	return nil
}
