package server

import (
	"net/http"

	"github.com/danielgtaylor/huma/v2"
)

// routes is every address of the server on one page. docs/manual/api.md shows
// an example of each; a test holds the two together.
func (s *server) routes(mux *http.ServeMux, api huma.API) {
	t := table{s: s, api: api}

	t.tag = "program"
	get(t, "/health", "get-health", "Is the program alive, and which version", s.getHealth)
	get(t, "/ready", "get-ready", "Can the notebook be read and written", s.getReady)
	get(t, "/support", "get-support", "A text for whoever helps when something is wrong, without a name in it; for the owner of the notebook", s.getSupport, statuses(403, 501))
	get(t, "/demo", "get-demo", "Is the invented demo notebook offered, and loaded", s.getDemo)
	put(t, "/demo", "load-demo", "Put the demo bows beside your own", s.loadDemo, statuses(501))
	del(t, "/demo", "remove-demo", "Take the demo bows out again", s.removeDemo, statuses(501))

	t.tag = "accounts"
	post(t, "/login", "log-in", "Begin a session", s.logIn, statuses(501, 507))
	post(t, "/logout", "log-out", "End this session", s.logOut, statuses(501, 507))
	post(t, "/logout-everywhere", "log-out-everywhere", "End every session and token of yours", s.logOutEverywhere, statuses(501, 507))
	get(t, "/account", "get-account", "Are there accounts, and who is logged in", s.getAccount)
	del(t, "/account/sessions/{id}", "end-session", "End one session of yours, as of a lost phone", s.endSession, statuses(403, 404, 501, 507))
	post(t, "/account/password", "change-password", "Change your password; ends your other sessions", s.changePassword, statuses(501, 507))
	post(t, "/account/confirm", "confirm", "Say again who you are, for what cannot be taken back; good for five minutes", s.confirm, statuses(501, 507))
	post(t, "/account/second-factor", "begin-second-factor", "Make a second factor: what an authenticator app scans", s.beginFactor, statuses(501, 507))
	put(t, "/account/second-factor", "keep-second-factor", "Turn the second factor on with its first code; gives the codes to print", s.keepFactor, statuses(501, 507))
	del(t, "/account/second-factor", "drop-second-factor", "Turn the second factor off", s.dropFactor, statuses(403, 501, 507))
	get(t, "/account/export", "export-mine", "Everything of yours as an export, to take along", s.takeAlong, zipAnswer, statuses(403, 501))
	get(t, "/people/{id}/belongings", "get-belongings", "What of the notebook is a person's: yours, or anyone's for the owner", s.getBelongings, statuses(403, 404, 501))
	post(t, "/people/{id}/erasure", "erase-person", "Take a person out of the notebook for good: yourself, or anyone by the owner", s.erase, statuses(404, 501, 507))
	put(t, "/invitations/{id}", "invite", "Make a link by which someone comes in, once", s.putInvitation, statuses(404, 501, 507))
	get(t, "/invitations", "list-invitations", "Links that were not used yet", s.listInvitations, statuses(501))
	del(t, "/invitations/{id}", "withdraw-invitation", "Make a link worthless", s.deleteInvitation, statuses(404, 501, 507))
	post(t, "/join/look", "look-at-invitation", "What a link lets in", s.lookAtInvitation, statuses(404, 501))
	post(t, "/join", "join", "Come in by a link: choose login and password", s.join, statuses(404, 409, 501, 507))
	post(t, "/recover", "recover", "A new password by the printed recovery code", s.recoverAccount, statuses(501, 507))
	get(t, "/people", "list-people", "Who is in the notebook and known to you", s.listPeople)
	put(t, "/people/{id}/standing", "change-standing", "Change a person's role, or whether they are let in", s.putStanding, versioned, statuses(404, 501))
	put(t, "/shares/{id}", "share", "Let someone see your bows, or work on them; withdrawn by a retraction", s.putShare, created, statuses(404))
	get(t, "/shares", "list-shares", "What you share and what is shared with you", s.listShares)
	put(t, "/tokens/{id}", "make-token", "Make a token for a program of yours; shown once", s.putToken, statuses(404, 501, 507))
	get(t, "/tokens", "list-tokens", "Your tokens, without their secrets", s.listTokens, statuses(501))
	del(t, "/tokens/{id}", "drop-token", "Make a token worthless", s.deleteToken, statuses(404, 501, 507))
	get(t, "/audit", "list-audit", "Who did what, newest first; for the owner of the notebook", s.listAudit, statuses(403, 501))

	t.tag = "person"
	get(t, "/me", "get-me", "Whose notebook this is, with units", s.getMe)
	put(t, "/me", "change-me", "Change name, hand, units or theme", s.putMe, versioned)
	get(t, "/units", "list-units", "Quantities that can be typed, and their units", s.listUnits)
	post(t, "/units/parse", "parse-text", "Read a typed quantity, both scales shown", s.parseText)
	get(t, "/reading-kinds", "list-reading-kinds", "What can be measured", s.listKinds)

	t.tag = "bows"
	get(t, "/bows", "list-bows", "The bench: every bow at a glance", s.getBench)
	put(t, "/bows/{id}", "create-bow", "Add a bow", s.putBow, created)
	get(t, "/bows/{id}", "get-bow", "A bow with its current set-up", s.getBow, statuses(404))
	put(t, "/bows/{id}/about", "change-bow", "Change a bow's name, notes or style, or put it away", s.putAbout, versioned, statuses(404))
	get(t, "/export.jsonl", "export-records", "Every record of a bow, or all that you may see, one a line", s.exportLines, linesAnswer, statuses(404))
	get(t, "/week", "get-week", "The week across archers: who drifted, what no longer counts, what falls due, what to do next; ask again while it computes", s.getWeek)
	get(t, "/round", "get-round", "What was last read on every bow, for a round over them", s.getRound)
	get(t, "/bows/{id}/setups", "list-setups", "A bow's set-ups, newest first, with what changed and why", s.listSetUps, statuses(404))

	t.tag = "set-ups"
	put(t, "/setups/{id}", "create-setup", "Make the next set-up of a bow", s.putSetUp, created, statuses(404))
	get(t, "/setups/{id}", "get-setup", "One set-up", s.getSetUp, statuses(404))
	get(t, "/setups/{id}/putback", "put-setup-back", "What to change, in which order and with what, to bring the bow back to this set-up", s.getPutBack, statuses(404))
	post(t, "/setups/check", "check-setup", "Check typed settings and preview the prediction; stores nothing", s.checkSetUp, statuses(404))
	post(t, "/predict", "predict", "What one set-up does: draw weight, energy, speed, with doubt", s.predict, statuses(404))
	post(t, "/sweep", "sweep", "What a range of brace heights does, as pictures and a table", s.sweep, statuses(404))

	t.tag = "target"
	post(t, "/target", "look-at-target", "What the target shows of a set-up, and what changes to it would do, with doubt", s.lookAtTarget, statuses(404))
	post(t, "/target/quick", "glance-at-target", "The same of one plausible set-up, without doubt: fast enough for a slider", s.glanceAtTarget, statuses(404))
	post(t, "/shafts", "shafts-to-try", "A short ranked list of shafts to borrow and try", s.shaftsToTry, statuses(404))
	post(t, "/forgiveness", "forgive", "What a brace height forgives: how far each of the archer's errors moves the arrows", s.forgive, statuses(404))
	post(t, "/bows/{id}/nocking", "advise-nocking", "What a high or low bare shaft says of the nocking point, and when it says nothing", s.adviseNocking, statuses(404))
	post(t, "/sightmarks", "sight-marks", "From two or more sight marks, a table for every distance in the day's air", s.sightMarks, statuses(404))
	get(t, "/work/{id}", "get-work", "How far a long calculation is, by the id its request named in work", s.getWork)

	t.tag = "sessions"
	put(t, "/sessions/{id}", "create-session", "Begin a session", s.putSession, created)
	get(t, "/sessions/{id}", "get-session", "One session with its readings", s.getSession, statuses(404))
	get(t, "/sessions", "list-sessions", "Sessions, oldest first", s.listSessions)

	t.tag = "readings"
	put(t, "/readings/{id}", "create-reading", "Note a reading, or correct one by a new one that names it", s.putReading, created)
	get(t, "/readings/{id}", "get-reading", "One reading", s.getReading, statuses(404))
	get(t, "/readings", "list-readings", "Readings, oldest first", s.listReadings)
	get(t, "/readings.csv", "export-readings", "Readings as a table, one a line", s.exportReadings, csvAnswer)
	put(t, "/retractions/{id}", "retract", "Take a record out of sight; retract the retraction to undo", s.putRetraction, created, statuses(404))
	get(t, "/retractions", "list-retractions", "What was taken back and can be brought back, the last first", s.listRetractions)

	t.tag = "ends"
	get(t, "/faces", "list-faces", "Target faces: rings, colours and the line rule", s.listFaces)
	put(t, "/ends/{id}", "create-end", "Keep an end: places on the face, or rings; correct one by a new one that names it", s.putEnd, created)
	get(t, "/ends/{id}", "get-end", "One end", s.getEnd, statuses(404))
	get(t, "/ends", "list-ends", "Ends, oldest first", s.listEnds)
	get(t, "/ends.csv", "export-ends", "Ends as a table, one arrow a line", s.exportEnds, csvAnswer)
	post(t, "/ends/read-csv", "read-ends", "Read a table of arrows; stores nothing, and a mistake anywhere refuses the whole", s.readTable, tables, statuses(422))

	t.tag = "groups"
	post(t, "/groups/describe", "describe-groups", "What arrows tell: spread, centre, score, odd arrows, each with its doubt", s.describeGroups, statuses(404))
	post(t, "/groups/expect", "expect-score", "What a measured spread scores at any distance and face, or which spread a score needs", s.expectScore, statuses(404))
	get(t, "/bows/{id}/observed", "observe-bow", "Set-ups compared by ordinary ends: observed, not randomised", s.observeBow, statuses(404))
	post(t, "/groups/compare", "compare-groups", "Which of two set-ups shoots tighter, or that it cannot be told yet", s.compareGroups, statuses(404))

	t.tag = "recordings"
	put(t, "/recordings/{id}/sound", "upload-sound", "Send a recording's own bytes", s.putSound, uploads, statuses(507))
	patch(t, "/recordings/{id}/upload", "upload-part", "Send the next part of a recording's own bytes: a broken connection goes on where it broke", s.addPart, partBody, statuses(409, 507))
	get(t, "/recordings/{id}/upload", "get-upload", "How much is here of an upload of yours", s.getParts, statuses(404))
	del(t, "/recordings/{id}/upload", "drop-upload", "Give an upload of yours up", s.dropParts)
	get(t, "/recordings/{id}/sound", "get-sound", "The recording as it was sent; Range is understood", s.getSound, downloads, statuses(404, 416))
	put(t, "/recordings/{id}", "create-recording", "Say what an uploaded recording is of", s.putRecording, created)
	get(t, "/recordings/{id}", "get-recording", "What a recording is of", s.getRecording, statuses(404))
	get(t, "/recordings", "list-recordings", "Recordings, oldest first", s.listRecordings)
	get(t, "/recordings/{id}/listening", "listen", "The shots found in a recording, and their measures", s.listen, statuses(404))
	put(t, "/onsets/{id}", "create-onsets", "Correct a recording's onsets, and say what its shots belong to", s.putOnsets, created)
	get(t, "/recordings/{id}/onsets", "list-onsets", "Every correction of a recording, oldest first", s.listOnsets, statuses(404))
	get(t, "/recordings/{id}/waveform", "get-waveform", "A recording's outline, of all of it or of a piece", s.getWaveform, statuses(404))
	get(t, "/recordings/{id}/spectrogram", "get-spectrogram", "Level over time and frequency of a piece of at most 10 s", s.getSpectrogram, statuses(404))
	get(t, "/recordings/{id}/clip", "get-clip", "A piece of at most 10 s to play, as WAV", s.getClip, plays, statuses(404))
	get(t, "/recordings/{id}/shots/{shot}/decay", "get-decay", "How a shot dies away, with its fit and noise floor", s.getDecay, statuses(404))
	get(t, "/sound/comparison", "compare-sound", "Two settings compared by every measure, with their spectra", s.getComparison, statuses(404))
	get(t, "/sound/pair", "play-pair", "A shot of each of two settings, one after the other at one gain, as WAV", s.getPair, plays, statuses(404))
	get(t, "/bows/{id}/signature", "get-signature", "How a bow usually sounds, and which shots sounded unlike the rest", s.getSignature, statuses(404))

	t.tag = "trials"
	post(t, "/trials/plan", "plan-trial", "Plan a brace-height trial; stores nothing", s.planTrial, statuses(404))
	put(t, "/trials/{id}", "create-trial", "Begin a planned trial", s.putTrial, created, statuses(404))
	get(t, "/trials/{id}", "get-trial", "A trial: its plan as it now stands, readings, events", s.getTrial, statuses(404))
	get(t, "/trials", "list-trials", "Trials, oldest first", s.listTrials)
	put(t, "/trials/{id}/events/{event}", "add-trial-event", "Stop reached, paused, finished or abandoned", s.putEvent, created, statuses(404))
	post(t, "/trials/{id}/verdict", "judge-trial", "The verdict as it stands now; stores nothing", s.judgeTrial, statuses(404))
	put(t, "/trials/{id}/verdicts/{verdict}", "keep-verdict", "Compute the verdict and keep it", s.putVerdict, created, statuses(404))
	get(t, "/trials/{id}/verdicts", "list-verdicts", "The verdicts kept, oldest first", s.listVerdicts, statuses(404))
	put(t, "/trials/{id}/choices/{setup}", "choose-stop", "Choose a brace height: makes the next set-up", s.putChoice, created, statuses(404))

	t.tag = "standing"
	get(t, "/bows/{id}/standing", "get-standing", "Does the old result still count: every result of a bow, and the order of work; ask again while it computes", s.getStanding, statuses(404))
	put(t, "/rulings/{id}", "rule", "Say, with a reason, that a result still counts or no longer does", s.putRuling, created)
	get(t, "/bows/{id}/ledger", "get-ledger", "What was forecast against what was then read", s.getLedger, statuses(404))
	get(t, "/bows/{id}/upkeep", "get-upkeep", "Check readings against their own scatter, string creep, shot counts", s.getUpkeep, statuses(404))
	post(t, "/compare", "compare-setups", "Two set-ups, of one bow or two, side by side", s.compareSetUps)
	post(t, "/transfer", "transfer", "The changes that bring a spare closest to a bow, and what cannot be matched; ask again while it computes", s.transfer)
	get(t, "/setups/{id}/explanation", "explain", "What brace height does on this bow; ask again while it computes", s.getExplanation, statuses(404))

	t.tag = "fitted"
	get(t, "/bows/{id}/fit", "get-fit", "A bow fitted to its readings, and what to measure next; ask again while it computes", s.getFit, statuses(404))
	put(t, "/fits/{id}", "keep-fit", "Fit a bow to its readings and keep the fit with what it saw", s.putFit, created)
	post(t, "/bows/{id}/whatif", "what-if", "What moving settings does on the fitted bow; ask again while it computes", s.fitWhatIf, statuses(404))
	post(t, "/bows/{id}/advice", "advise", "Two or three routes to a wish, each a ready-made change; ask again while it computes", s.advise, statuses(404))

	t.tag = "sheets"
	get(t, "/sheets/{kind}/{id}", "get-sheet", "A sheet as data, to show on screen", s.getSheet, statuses(404, 501))
	mux.HandleFunc("GET /sheets/{kind}/{file}", s.serveSheet) // {id}.pdf, .txt or .csv

	mux.HandleFunc("GET "+openAPIPath, s.serveOpenAPI)
	mux.HandleFunc("GET /metrics", s.serveMetrics)
	mux.HandleFunc("GET "+helpPath+"{code}", serveHelp)
	if s.Trust != nil {
		mux.Handle("/trust", s.Trust) // a page of its own, without login
		mux.Handle("/trust/", s.Trust)
	}
	mux.HandleFunc("/api/", s.noRoute)
	mux.HandleFunc("/", s.pages)
}
