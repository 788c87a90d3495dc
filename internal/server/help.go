package server

import (
	"bytes"
	"html/template"
	"net/http"

	"tautline/notebook"
)

// Codes of problems that arise at the door; the notebook's own codes join
// them. A code, once published, keeps its meaning.
const (
	codeHost         = "unknown-host"
	codeOrigin       = "foreign-origin"
	codeContentType  = "content-type"
	codeInvalid      = string(notebook.Invalid)
	codeUnreadable   = "unreadable"
	codeTooLarge     = string(notebook.TooLarge)
	codeSlow         = "not-received"
	codeStarting     = "starting"
	codeNotFound     = string(notebook.NotFound)
	codeMethod       = "method"
	codeDifferent    = string(notebook.Different)
	codeNoVersion    = "version-missing"
	codeOutdated     = string(notebook.Outdated)
	codeInternal     = "internal"
	codeNotOffered   = "not-offered"
	codeNoPrediction = "no-prediction"
	codeTooLong      = "too-long"
	codeRange        = "range"
	codeOffset       = "other-offset"
	codeLogin        = "not-logged-in"
	codeTooMany      = "too-many"
	codeConfirm      = "say-again"
	codeSecond       = "second-factor"
	codeBusy         = "too-busy"
)

// help explains one code to a person.
type help struct {
	Code  string
	Title string // what kind of problem
	Means string // what happened
	Try   string // what to do
}

// helps is every code this server can answer with.
var helps = []help{
	{codeHost, "Unknown host name", "The request was addressed to a name that this program does not answer to. This protects the notebook from web pages that point their own name at your machine.", "Open the address that the program printed when it started. To allow another name, start it with that name."},
	{codeOrigin, "Page of another site", "A page of another web site tried to change this notebook, and was refused.", "Make the change on the notebook's own pages. A program should send no Origin header."},
	{codeContentType, "Wrong content type", "Changes are sent as JSON, and recordings as their own bytes.", "Set the header Content-Type: application/json."},
	{codeInvalid, "The request does not fit", "A field is missing, misspelt, of the wrong kind or out of its limits. The list of errors names each.", "Correct the fields named; the API's description under /openapi.json shows what each takes. Nothing was stored."},
	{codeUnreadable, "A value cannot be read", "What was typed is not a quantity with a unit that fits the field.", "Write a number with its unit, like 22.5 cm, 8 3/4 in, 44 lbf or 360 gr. Nothing was stored."},
	{codeTooLarge, "Too large", "The body is larger than this route takes: 200 MB for a recording, 1 MiB for anything else.", "Cut the recording into parts, or send fewer records in one request. Nothing of it was kept."},
	{codeStarting, "Starting or stopping", "The program is opening the notebook, or about to stop.", "Try again in a moment; what you typed is still on your device."},
	{codeSlow, "Not received whole", "The connection was too slow or broke before everything had arrived.", "Send it again. Each record carries its own id, so sending twice stores it once."},
	{codeNotFound, "Not found", "There is no record or page at this address.", "Check the id; look for the bow on the bench."},
	{codeMethod, "Not possible at this address", "The address exists, but not for this kind of request.", "The header Allow names what is possible."},
	{codeDifferent, "Another version is stored", "The notebook holds a different record under the same id. Neither was changed; both are shown.", "Decide which is right. To keep both, send yours under a new id."},
	{codeNoVersion, "Say which version you change", "This record can change. To not overwrite someone else's change, say which version yours starts from.", "Read the record, and send its ETag back in the header If-Match."},
	{codeOutdated, "Changed meanwhile", "The record was changed after you read it. Both versions and their differences are shown; yours was not stored.", "Look at the differences, then send yours with the present ETag."},
	{codeInternal, "The program failed", "A fault of the program. What was stored before is untouched.", "Try once more; if it stays, look into the program's log and report it."},
	{string(notebook.Busy), "The notebook is busy", "Another program holds the notebook at the moment.", "Wait a moment and send it again; a resend does no harm. Only one Tautline may have a notebook open."},
	{string(notebook.ReadOnly), "Nothing more is written", "A write to the disk failed. To not make it worse, this program now only reads.", "Look at the disk, then stop the program and start it again: it checks the notebook first. What was acknowledged is safe."},
	{string(notebook.DiskFull), "The disk is full", "There is no room for this record. Reading goes on.", "Free some space, then send it again; a resend does no harm."},
	{string(notebook.TooNew), "Written by a newer program", "The notebook was written by a newer Tautline, and this one would misread it.", "Use the newer program."},
	{string(notebook.Damaged), "Stored data are damaged", "What is stored does not pass its check.", "Run tautline verify, and keep a copy of the folder before anything else."},
	{string(notebook.NotAllowed), "Not yours to do", "This record belongs to someone else.", "Ask its owner to share it with you."},
	{string(notebook.Unavailable), "The notebook does not answer", "The storage cannot be reached at the moment.", "Wait a moment and send it again; a resend does no harm."},
	{codeNotOffered, "Not offered", "This program was started without that feature.", "Start it another way; see tautline --help."},
	{codeNoPrediction, "No prediction", "The model cannot brace or draw this bow as described.", "Check the fields named: brace height inside the limb maker's range, draw length, string length."},
	{codeTooLong, "Took too long", "The calculation was stopped because it took longer than the server allows.", "Ask for fewer steps or a shorter span."},
	{codeLogin, "Not logged in", "This notebook belongs to several people, and it is not known who asks; or login and password do not fit together.", "Log in. Who has lost the password uses the printed recovery code, or asks the owner of the notebook for a new link."},
	{codeBusy, "More to do than can be done", "The server was asked for more than it can do at this moment and did not begin this.", "Wait as long as the header Retry-After says, then send it again; a resend does no harm."},
	{codeTooMany, "Too many requests", "Requests, or guesses at a password, came faster than this server allows.", "Wait as long as the header Retry-After says, then send it again; a resend does no harm."},
	{codeConfirm, "Say again who you are", "What was asked for cannot be taken back, or hands out everything of yours. It needs your password once more, and the code of your second factor if you have one.", "Type the password on the page; the next five minutes need it no more."},
	{codeSecond, "The second factor is missing", "The password alone is not enough here: a code is asked for, or, of the owner of a notebook of several people, that a second factor be set up.", "Type the six digits that your authenticator app shows, or one of the codes you printed. To set it up, open the page of your account."},
	{codeOffset, "Begins elsewhere", "A recording that is sent in parts goes on from the byte at which what is here ends; this part begins at another.", "Ask how many bytes are here, or read the header Upload-Offset, and send the rest from there."},
	{codeRange, "Not inside the recording", "The part asked for does not lie inside the recording.", "Ask for a range within its length."},
}

// helpFor finds a code's explanation; one that is missing is explained as a
// fault of ours rather than not at all.
func helpFor(code string) help {
	for _, h := range helps {
		if h.Code == code {
			return h
		}
	}
	return help{Code: code, Title: "Problem"}
}

var helpPage = template.Must(template.New("help").Parse(`<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{.Title}} – Tautline</title><link rel="stylesheet" href="/app.css"></head>
<body><main class="help">
<h1>{{.Title}}</h1>
<p>{{.Means}}</p>
<h2>What to try</h2>
<p>{{.Try}}</p>
<p><small>Code: <code>{{.Code}}</code></small></p>
<p class="row"><a class="button" href="/">To the bench</a><a class="button" href="/help">Help</a><a class="button" href="/help/errors">Every refusal</a></p>
</main></body>
</html>
`))

// serveHelp answers with the page of one code.
func serveHelp(w http.ResponseWriter, r *http.Request) {
	h := helpFor(r.PathValue("code"))
	if h.Means == "" {
		writeProblem(w, r, newProblem(http.StatusNotFound, codeNotFound, "There is no such code.", "Every code is listed under /help/errors."))
		return
	}
	var page bytes.Buffer
	if err := helpPage.Execute(&page, h); err != nil {
		writeProblem(w, r, internalProblem())
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	if _, err := page.WriteTo(w); err != nil {
		return // the client has gone
	}
}
