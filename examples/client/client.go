package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// client asks one server.
type client struct {
	base   string
	token  string
	http   *http.Client
	page   int                 // rows asked for at once
	tries  int                 // how often a request is sent until it is answered
	paused func(time.Duration) // waits
}

func newClient(server, token string) *client {
	return &client{base: strings.TrimRight(server, "/") + "/api/v1", token: token, http: http.DefaultClient, page: 100, tries: 5, paused: time.Sleep}
}

// problem is every refusal of the server (RFC 9457).
type problem struct {
	Status int
	Code   string
	Detail string
	Hint   string
	// Differences stand in an answer 412 or 409: what the notebook holds,
	// against what was sent.
	Differences []struct {
		Field        string
		Stored, Sent any
	}
}

func (p *problem) Error() string {
	text := fmt.Sprintf("%s (%s)", p.Detail, p.Code)
	for _, d := range p.Differences {
		text += fmt.Sprintf("\n  %s: stored %v, sent %v", d.Field, d.Stored, d.Sent)
	}
	if p.Hint != "" {
		text += "\n  " + p.Hint
	}
	return text
}

// send sends a request until it is answered. That is safe for every request
// that this program makes: reading changes nothing, a create carries its own
// id, and a change carries its version.
func (c *client) send(ctx context.Context, method, path string, body any, ifMatch string) (*http.Response, error) {
	raw, err := json.Marshal(body)
	if err != nil {
		return nil, err
	}
	wait := time.Second
	for try := 1; ; try++ {
		answer, err := c.once(ctx, method, path, raw, ifMatch)
		again := err != nil || answer.StatusCode == http.StatusServiceUnavailable || answer.StatusCode == http.StatusTooManyRequests
		if !again || try == c.tries || ctx.Err() != nil {
			return answer, err
		}
		pause := wait
		if err == nil {
			if s, e := strconv.Atoi(answer.Header.Get("Retry-After")); e == nil {
				pause = time.Duration(s) * time.Second
			}
			answer.Body.Close()
		}
		c.paused(pause)
		wait *= 2
	}
}

// once sends a request once.
func (c *client) once(ctx context.Context, method, path string, raw []byte, ifMatch string) (*http.Response, error) {
	var body io.Reader
	if method != http.MethodGet {
		body = bytes.NewReader(raw)
	}
	r, err := http.NewRequestWithContext(ctx, method, c.base+path, body)
	if err != nil {
		return nil, err
	}
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	if c.token != "" {
		r.Header.Set("Authorization", "Bearer "+c.token)
	}
	if ifMatch != "" {
		r.Header.Set("If-Match", ifMatch)
	}
	return c.http.Do(r)
}

// ask sends a request and reads its answer into out. It gives the status and
// the version (ETag) of what was answered.
func (c *client) ask(ctx context.Context, method, path string, body any, ifMatch string, out any) (int, string, error) {
	answer, err := c.send(ctx, method, path, body, ifMatch)
	if err != nil {
		return 0, "", err
	}
	defer answer.Body.Close()
	if answer.StatusCode >= 400 {
		return answer.StatusCode, "", refusal(answer)
	}
	return answer.StatusCode, answer.Header.Get("ETag"), json.NewDecoder(answer.Body).Decode(out)
}

// stream copies an answer as it comes, however long it is.
func (c *client) stream(ctx context.Context, path string, out io.Writer) error {
	answer, err := c.send(ctx, http.MethodGet, path, nil, "")
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if answer.StatusCode >= 400 {
		return refusal(answer)
	}
	_, err = io.Copy(out, answer.Body)
	return err
}

func refusal(answer *http.Response) error {
	p := &problem{Status: answer.StatusCode, Detail: answer.Status}
	if answer.Header.Get("Content-Type") == "application/problem+json" {
		if err := json.NewDecoder(answer.Body).Decode(p); err != nil {
			return err
		}
	}
	return p
}
