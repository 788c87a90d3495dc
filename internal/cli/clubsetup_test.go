//go:build unix

package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"tautline/internal/store/pgtest"
	"tautline/notebook"
)

// clubShell runs what the club's manual shows as it stands there, on a
// PostgreSQL server of its own: "sudo -u NAME" is the database's role of that
// name, since on one machine the server knows the system's user; the service is
// the line of the unit; the folder is a temporary one.
type clubShell struct {
	t       *testing.T
	data    string            // stands for /var/lib/tautline
	backup  string            // stands for BACKUP
	socket  string            // where the server is found
	env     map[string]string // what was written to /etc/tautline/environment
	service *exec.Cmd
	said    *sync.Mutex // guards log
	log     *bytes.Buffer
	listen  string
}

// notHere are the commands that only root of a real machine can run.
var notHere = []string{"sudo install ", "sudo journalctl ", "sudo chown "}

// step runs the lines of a block, and fails where a line does.
func (c *clubShell) step(block string) {
	c.t.Helper()
	lines := strings.Split(block, "\n")
	for len(lines) > 0 {
		line := strings.TrimSpace(lines[0])
		lines = lines[1:]
		if strings.HasSuffix(line, "<<'END'") {
			end := slices.Index(lines, "END") + 1
			line += "\n" + strings.Join(lines[:end], "\n")
			lines = lines[end:]
		}
		words := strings.Fields(line)
		switch {
		case line == "" || slices.ContainsFunc(notHere, func(begin string) bool { return strings.HasPrefix(line, begin) }):
		case strings.HasPrefix(line, "echo '") && strings.Contains(line, "/etc/tautline/environment"):
			name, value, _ := strings.Cut(strings.SplitN(line, "'", 3)[1], "=")
			c.env[name] = value
		case strings.HasPrefix(line, "sudo cp -r BACKUP "):
			if err := os.CopyFS(strings.ReplaceAll(words[4], "/var/lib/tautline", c.data), os.DirFS(c.backup)); err != nil {
				c.t.Fatal(err)
			}
		case line == "sudo systemctl stop tautline":
			c.stop()
		case line == "sudo systemctl start tautline", line == "sudo systemctl enable --now tautline":
			c.start()
		case len(words) > 3 && words[0] == "sudo" && words[1] == "-u":
			c.as(words[2], strings.TrimPrefix(line, "sudo -u "+words[2]+" "))
		default:
			c.t.Errorf("the test does not know what to do with %q", line)
		}
	}
}

// as runs a command of the manual as a role of the database.
func (c *clubShell) as(role, command string) string {
	c.t.Helper()
	shell := exec.CommandContext(c.t.Context(), "sh", "-c", strings.ReplaceAll(command, "/var/lib/tautline", c.data))
	shell.Env = append(os.Environ(), "PGHOST="+c.socket, "PGUSER="+role, "TAUTLINE_DATABASE=")
	out, err := shell.CombinedOutput()
	if err != nil {
		c.t.Fatalf("as %s, %s: %v\n%s", role, command, err, out)
	}
	return string(out)
}

// start runs the unit's command with the environment, on a free port.
func (c *clubShell) start() {
	c.t.Helper()
	unit, err := os.ReadFile("../../packaging/tautline.service")
	if err != nil {
		c.t.Fatal(err)
	}
	found := regexp.MustCompile(`(?m)^ExecStart=/usr/local/bin/tautline (.*) \$TAUTLINE_SERVE$`).FindSubmatch(unit)
	if found == nil || !strings.Contains(c.env["TAUTLINE_SERVE"], "--listen 127.0.0.1:8421") {
		c.t.Fatalf("the unit's command, or where it listens, is written otherwise: %q", c.env)
	}
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		c.t.Fatal(err)
	}
	c.listen = free.Addr().String()
	if err := free.Close(); err != nil {
		c.t.Fatal(err)
	}
	line := strings.ReplaceAll(string(found[1])+" "+c.env["TAUTLINE_SERVE"], "127.0.0.1:8421", c.listen)
	c.log = &bytes.Buffer{}
	c.service = exec.Command("tautline", strings.Fields(strings.ReplaceAll(line, "/var/lib/tautline", c.data))...)
	c.service.Env = append(os.Environ(), "PGHOST="+c.socket, "PGUSER=tautline", "TAUTLINE_DATABASE="+c.env["TAUTLINE_DATABASE"])
	c.service.Stdout, c.service.Stderr = writerOf(c), writerOf(c)
	if err := c.service.Start(); err != nil {
		c.t.Fatal(err)
	}
	c.waitFor("(Stop with Ctrl-C)")
	c.ready()
}

// ready waits until the notebook is open: after an update that may take a while.
func (c *clubShell) ready() {
	c.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		r, err := http.NewRequestWithContext(c.t.Context(), http.MethodGet, "http://"+c.listen+"/api/v1/ready", nil)
		if err != nil {
			c.t.Fatal(err)
		}
		r.Host = "bows.example.org"
		answer, err := http.DefaultClient.Do(r)
		if err == nil && answer.StatusCode == http.StatusOK {
			_ = answer.Body.Close() // nothing of it is read
			return
		}
		if err == nil {
			_ = answer.Body.Close() // asked again
		}
	}
	c.t.Fatalf("the service is not ready:\n%s", c.log)
}

type lockedLog struct{ c *clubShell }

func writerOf(c *clubShell) io.Writer { return lockedLog{c} }

func (l lockedLog) Write(p []byte) (int, error) {
	l.c.said.Lock()
	defer l.c.said.Unlock()
	return l.c.log.Write(p)
}

// waitFor gives what the service has said.
func (c *clubShell) waitFor(pattern string) string {
	c.t.Helper()
	looked := regexp.MustCompile(pattern)
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		c.said.Lock()
		found := looked.FindStringSubmatch(c.log.String())
		c.said.Unlock()
		if found != nil {
			return found[1]
		}
	}
	c.t.Fatalf("the service did not say %s:\n%s", pattern, c.log)
	return ""
}

func (c *clubShell) stop() {
	if c.service == nil {
		return
	}
	err := errors.Join(c.service.Process.Signal(syscall.SIGTERM), c.service.Wait())
	c.service = nil
	if err != nil {
		c.t.Errorf("the service stopped: %v\n%s", err, c.log)
	}
}

// member is someone's browser, behind the web server that does HTTPS.
type member struct {
	c      *clubShell
	cookie string
	id     string
}

func (m *member) do(method, path string, body map[string]any, status int) map[string]any {
	t := m.c.t
	t.Helper()
	raw, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	req, err := http.NewRequestWithContext(t.Context(), method, "http://"+m.c.listen+"/api/v1"+path, bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	req.Host = "bows.example.org"
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("X-Forwarded-For", "192.0.2.7")
	req.Header.Set("Cookie", m.cookie)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := io.ReadAll(resp.Body)
	if err = errors.Join(err, resp.Body.Close()); err != nil || resp.StatusCode != status {
		t.Fatalf("%s %s: %d %s, %v", method, path, resp.StatusCode, answer, err)
	}
	for _, k := range resp.Cookies() {
		if k.Name == "__Host-tautline" {
			m.cookie = k.Name + "=" + k.Value
		}
	}
	out := map[string]any{}
	if len(answer) > 0 && json.Unmarshal(answer, &out) != nil {
		t.Fatalf("%s %s: %s", method, path, answer)
	}
	return out
}

const clubPassword = "quilt harbour sixteen lanterns"

// joins comes in by a link.
func (c *clubShell) joins(name, link string) *member {
	c.t.Helper()
	m := &member{c: c}
	_, secret, _ := strings.Cut(link, "#")
	r := m.do("POST", "/join", map[string]any{"secret": secret, "name": name, "login": strings.ToLower(strings.Fields(name)[0]), "password": clubPassword}, 200)
	m.id = fmt.Sprint(r["account"].(map[string]any)["person"])
	return m
}

// blocks are the commands of a section of the club's manual that are run here.
func blocksOf(t *testing.T, section string) (out []string) {
	t.Helper()
	_, page, found := strings.Cut(strings.Join(linesOf(t, clubPage), "\n"), "# "+section+"\n")
	if !found {
		t.Fatalf("%s has no section %s", clubPage, section)
	}
	page, _, _ = strings.Cut(page, "\n## ")
	for i, block := range strings.Split(page, "```") {
		if i%2 == 1 && runHere(block) {
			out = append(out, block)
		}
	}
	return out
}

// clubServer is a PostgreSQL server as Debian makes it, whose administrator is
// postgres.
func clubServer(t *testing.T) (pg *pgtest.Server, socket string) {
	t.Helper()
	pg = pgtest.For(t)
	socket = filepath.Dir(pg.Data())
	for _, step := range [][]string{{"tautline", "CREATE ROLE postgres SUPERUSER LOGIN"}, {"postgres", "ALTER ROLE tautline RENAME TO first"}} {
		psql := exec.CommandContext(t.Context(), "psql", "-d", "postgres", "-c", step[1])
		psql.Env = append(os.Environ(), "PGHOST="+socket, "PGUSER="+step[0])
		if out, err := psql.CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
	}
	return pg, socket
}

// An update's copy, made of the tables as they are, for going back to.
const copyAsAnUpdate = `DO $$ DECLARE t text; BEGIN
CREATE SCHEMA before_version_6_20260102t150405z;
FOR t IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' LOOP
  EXECUTE format('CREATE TABLE before_version_6_20260102t150405z.%I (LIKE public.%I INCLUDING ALL)', t, t);
  EXECUTE format('INSERT INTO before_version_6_20260102t150405z.%I OVERRIDING SYSTEM VALUE SELECT * FROM public.%I', t, t);
END LOOP;
PERFORM setval(pg_get_serial_sequence('before_version_6_20260102t150405z.' || table_name, column_name), 1000000)
  FROM information_schema.columns WHERE table_schema = 'public' AND is_identity = 'YES';
END $$`

// T9, T10, T27: what the club's manual shows, run as it stands there, from a
// fresh server to the first invited archer, through an update, a backup put
// back, the erasing of a person whose name is then in no byte of the server's
// files, and going back, with people coming in after each. The time to the archer is
// logged: what a person adds to it is reading and typing.
func TestClubAsTheManualSays(t *testing.T) {
	pg, socket := clubServer(t)
	c := &clubShell{t: t, data: filepath.Join(t.TempDir(), "data"), socket: socket, env: map[string]string{}, said: &sync.Mutex{}}
	t.Cleanup(c.stop)
	began := time.Now()
	first, owners, journal := blocksOf(t, "Ten minutes"), blocksOf(t, "As the owner of the tables"), blocksOf(t, "What PostgreSQL's journal keeps")
	if len(first) != 3 || len(owners) != 5 || len(journal) != 1 {
		t.Fatalf("%d, %d and %d blocks: does the test still read the page right?", len(first), len(owners), len(journal))
	}
	for _, block := range first {
		c.step(block)
	}
	owner := c.joins("Oda Berg", c.waitFor(`https://bows\.example\.org(/\S+)`))
	invited := owner.do("PUT", "/invitations/"+string(notebook.NewID()), map[string]any{"name": "Ida", "role": "archer"}, 200)
	archer := c.joins("Ida Falkenstjerna", fmt.Sprint(invited["path"]))
	bow := string(notebook.NewID())
	archer.do("PUT", "/bows/"+bow, map[string]any{"name": "Heron", "style": "recurve"}, 201)
	t.Logf("from a fresh server to the first archer's bow: %v", time.Since(began).Round(time.Millisecond))

	c.step(owners[0]) // a new version
	archer.do("GET", "/bows/"+bow, nil, 200)
	c.as("tautline", "tautline backup "+c.data+"/backups/2026-01-02T150405Z --data "+c.data+" --database postgres:///club")
	c.backIn(owners[1], archer, "ida")
	archer.do("GET", "/bows/"+bow, nil, 200)

	if found := holdingName(t, pg); found == "" {
		t.Error("the name of an archer is nowhere in the server's files: is it looked for in the right place?")
	}
	archer.do("POST", "/account/confirm", map[string]any{"password": clubPassword}, 200)
	archer.do("POST", "/people/"+archer.id+"/erasure", map[string]any{"name": "Ida Falkenstjerna"}, 200)
	c.step(journal[0])
	if found := holdingName(t, pg); found != "" {
		t.Errorf("the name of the erased is still in the server's files:\n%s", found)
	}

	c.importsBesideACopy()
	c.step(owners[0])
	c.copied()
	c.backIn(owners[2], owner, "oda")
	c.belongsToOwner()
	c.onANewMachine(first, owners[3])
	c.handedOver(owners[4])
	owner.do("POST", "/login", map[string]any{"login": "oda", "password": clubPassword}, 200)
	owner.do("GET", "/people", nil, 200)
}

func (c *clubShell) belongsToOwner() {
	c.t.Helper()
	if out := c.as("postgres", "psql club -Atc \"SELECT count(*) FROM pg_tables WHERE schemaname ~ '^(public|before|after)' AND tableowner <> 'club_owner'\""); out != "0\n" {
		c.t.Errorf("%s tables belong to others", out)
	}
}

// onANewMachine loses database, roles, folder and environment, and has them back
// from a backup alone.
func (c *clubShell) onANewMachine(first []string, back string) {
	c.t.Helper()
	c.backup = filepath.Join(c.t.TempDir(), "backup")
	c.as("tautline", "tautline backup "+c.backup+" --data /var/lib/tautline --database postgres:///club")
	c.stop()
	c.as("postgres", "psql -c 'DROP DATABASE club' -c 'DROP ROLE tautline' -c 'DROP ROLE club_owner'")
	c.data, c.env = filepath.Join(c.t.TempDir(), "data"), map[string]string{}
	c.step(first[0])
	c.step(first[1])
	c.step(back)
}

// handedOver gives the tables to the administrator, as an earlier edition of the
// manual had it, a copy from before an update with them, and hands them over as
// the manual shows.
func (c *clubShell) handedOver(block string) {
	c.t.Helper()
	c.copied()
	_, sql, _ := strings.Cut(block, "<<'END'\n")
	sql, _, _ = strings.Cut(sql, "\nEND\n")
	c.as("postgres", "psql club <<'END'\n"+strings.ReplaceAll(sql, "club_owner", "postgres")+"\nEND\n")
	c.as("postgres", "psql club -c 'DROP OWNED BY club_owner' -c 'DROP ROLE club_owner'")
	c.step(block)
	c.belongsToOwner()
}

// copied makes the copy of an update.
func (c *clubShell) copied() {
	c.t.Helper()
	c.as("postgres", "PGOPTIONS='-c role=club_owner' psql club -c \""+strings.ReplaceAll(copyAsAnUpdate, "$", `\$`)+"\"")
}

// importsBesideACopy: a copy from before an erasure that the serving role may
// not remove, for the owner has not lent it that yet, is told of and keeps
// nothing from being brought in: the backup that comes first is there.
func (c *clubShell) importsBesideACopy() {
	c.t.Helper()
	c.stop()
	c.copied()
	c.as("postgres", "psql club -c 'DROP FUNCTION drop_copy(text)'")
	const book = " --data /var/lib/tautline --database postgres:///club"
	file := filepath.Join(c.t.TempDir(), "club.zip")
	c.as("tautline", "tautline export "+file+book)
	out := c.as("tautline", "tautline import "+file+book)
	if !strings.Contains(out, "before_version_6_20260102t150405z") || !strings.Contains(out, "--serve-as") || !strings.Contains(out, "A backup from before is in") {
		c.t.Errorf("the import said: %s", out)
	}
}

// backIn runs what ends everyone's sessions, comes in again and writes.
func (c *clubShell) backIn(block string, m *member, login string) {
	c.t.Helper()
	c.step(block)
	m.do("POST", "/login", map[string]any{"login": login, "password": clubPassword}, 200)
	m.do("PUT", "/bows/"+string(notebook.NewID()), map[string]any{"name": "Wren", "style": "recurve"}, 201)
	if out := c.as("postgres", "psql club -Atc \"SELECT pg_has_role('tautline', 'club_owner', 'MEMBER')\""); out != "f\n" {
		c.t.Errorf("the serving role still takes the owner's part: %s", out)
	}
}

// holdingName lists the files of the server, its journal included, that hold
// the archer's name.
func holdingName(t *testing.T, pg *pgtest.Server) string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), "grep", "-rlia", "falkenstjerna", pg.Data()).Output()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != 1) {
		t.Fatal(err)
	}
	return string(out)
}
