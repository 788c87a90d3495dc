package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"tautline/notebook"
)

// accountsAtOnce: of changes made at once none is lost, and a change that says
// false stores nothing.
func accountsAtOnce(t *testing.T, s notebook.Store) {
	accounts, ok := s.(notebook.Accounts)
	if !ok {
		t.Skip("it keeps no accounts")
	}
	ctx, person := context.Background(), notebook.NewID()
	if err := accounts.SaveAccount(ctx, notebook.Account{Person: person, Login: "zora", Hash: "x", Made: At, Since: At}); err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for range 50 {
		all.Go(func() {
			if _, err := accounts.ChangeAccount(ctx, person, func(a *notebook.Account) bool { a.Strangers++; return true }); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	a, err := accounts.ChangeAccount(ctx, person, func(a *notebook.Account) bool { a.Codes = 7; return false })
	if err != nil || a.Strangers != 50 {
		t.Errorf("fifty changes at once counted %d, %v", a.Strangers, err)
	}
	if a, err = accounts.AccountOf(ctx, person); err != nil || a.Codes != 0 || a.Strangers != 50 || a.Login != "zora" {
		t.Errorf("the account became %+v, %v", a, err)
	}
	if _, err := accounts.ChangeAccount(ctx, notebook.NewID(), func(*notebook.Account) bool { return true }); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("a change of nobody's account gave %v", err)
	}
}

// ownIDs: a link or token that is made again takes the place of the first, whose
// answer was lost; nobody's takes the place of another's.
func ownIDs(t *testing.T, s notebook.Store) {
	accounts, ok := s.(notebook.Accounts)
	if !ok {
		t.Skip("it keeps no accounts")
	}
	ctx, ann, ben := context.Background(), notebook.NewID(), notebook.NewID()
	for _, kind := range []notebook.CredentialKind{notebook.InvitationCredential, notebook.TokenCredential} {
		first := notebook.Credential{ID: notebook.NewID(), Kind: kind, Hash: string(kind) + " 1", By: ann, Person: ann, Made: At, Expires: At.AddDate(0, 0, 7)}
		again, strange := first, first
		again.Hash = string(kind) + " 2"
		strange.Hash, strange.By, strange.Person = string(kind)+" 3", ben, ben
		if err := errors.Join(accounts.SaveCredential(ctx, first), accounts.SaveCredential(ctx, again)); err != nil {
			t.Fatal(err)
		}
		if err := accounts.SaveCredential(ctx, strange); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("%s under another's id: %v", kind, err)
		}
		for hash, code := range map[string]notebook.Code{first.Hash: notebook.NotFound, again.Hash: "", strange.Hash: notebook.NotFound} {
			if c, err := accounts.CredentialBy(ctx, kind, hash, At); notebook.CodeOf(err) != code || err == nil && c.By != ann {
				t.Errorf("%s: %+v, %v", hash, c, err)
			}
		}
	}
}

// listsOwn: a person's list of places or tokens holds theirs alone, the list of
// all everybody's; what has expired is in neither.
func listsOwn(t *testing.T, s notebook.Store) {
	accounts, ok := s.(notebook.Accounts)
	if !ok {
		t.Skip("it keeps no accounts")
	}
	ctx, ann, ben := context.Background(), notebook.NewID(), notebook.NewID()
	for name, c := range map[string]notebook.Credential{
		"ann's": {Kind: notebook.TokenCredential, Person: ann, Expires: At.AddDate(0, 0, 7)}, "ben's": {Kind: notebook.TokenCredential, Person: ben, Expires: At.AddDate(0, 0, 7)},
		"ann's old": {Kind: notebook.TokenCredential, Person: ann, Expires: At}, "ann's phone": {Kind: notebook.SessionCredential, Person: ann, Expires: At.AddDate(0, 0, 7)},
	} {
		c.ID, c.Hash, c.Name, c.By, c.Made = notebook.NewID(), name, name, c.Person, At.AddDate(0, 0, -7)
		if err := accounts.SaveCredential(ctx, c); err != nil {
			t.Fatal(err)
		}
	}
	for person, want := range map[notebook.ID][]string{ann: {"ann's"}, ben: {"ben's"}, "": {"ann's", "ben's"}, notebook.NewID(): nil} {
		list, err := accounts.Credentials(ctx, notebook.TokenCredential, person, At)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, c := range list {
			names = append(names, c.Name)
		}
		slices.Sort(names)
		if !slices.Equal(names, want) {
			t.Errorf("the tokens of %q are %q, want %q", person, names, want)
		}
	}
}

// admitsOnce: of many who come by one invitation at once, one is let in, and
// nothing of the others is kept; a login that is taken lets nobody in.
func admitsOnce(t *testing.T, s notebook.Store) {
	accounts, ok := s.(notebook.Accounts)
	if !ok {
		t.Skip("it keeps no accounts")
	}
	ctx := context.Background()
	invited := func() notebook.ID {
		c := notebook.Credential{ID: notebook.NewID(), Kind: notebook.InvitationCredential, By: notebook.NewID(), Made: At, Expires: At.AddDate(0, 0, 7)}
		c.Hash = string(c.ID)
		if err := accounts.SaveCredential(ctx, c); err != nil {
			t.Fatal(err)
		}
		return c.ID
	}
	come := func(by notebook.ID, p notebook.Person, login string) error {
		return accounts.Admit(ctx, notebook.Admission{Person: p, Account: notebook.Account{Person: p.ID, Login: login, Hash: "x", Made: At, Since: At}, Invitation: by})
	}
	const many = 10
	link, people, answers := invited(), [many]notebook.Person{}, [many]error{}
	var all sync.WaitGroup
	for i := range many {
		people[i] = New().Person
		all.Go(func() { answers[i] = come(link, people[i], fmt.Sprintf("guest-%d", i)) })
	}
	all.Wait()
	in := 0
	for i, err := range answers {
		_, known := accounts.AccountOf(ctx, people[i].ID)
		switch {
		case err == nil && known == nil:
			in++
			if p, err := s.People().Get(ctx, people[i].ID, people[i].ID); err != nil || p.Name != people[i].Name {
				t.Errorf("who was let in is %+v, %v", p, err)
			}
		case notebook.CodeOf(err) != notebook.NotFound || notebook.CodeOf(known) != notebook.NotFound:
			t.Errorf("guest %d: %v, and the account: %v", i, err, known)
		}
	}
	if in != 1 {
		t.Errorf("one invitation let %d in", in)
	}
	link = invited()
	for i, err := range answers {
		if err == nil {
			if err := come(link, New().Person, fmt.Sprintf("guest-%d", i)); notebook.CodeOf(err) != notebook.Different {
				t.Errorf("with another's login: %v", err)
			}
		}
	}
	if err := come(link, New().Person, "late"); err != nil {
		t.Errorf("an invitation that let nobody in is used up: %v", err)
	}
}

// logPages: the log is read backwards, page by page, each line once.
func logPages(t *testing.T, s notebook.Store) {
	accounts, ok := s.(notebook.Accounts)
	if !ok {
		t.Skip("it keeps no accounts")
	}
	ctx := context.Background()
	for i := range 5 {
		if err := accounts.Note(ctx, notebook.AuditEntry{At: At, What: "login", From: "192.0.2.7", Status: 200 + i}); err != nil {
			t.Fatal(err)
		}
	}
	var read []int
	for before := int64(0); ; {
		page, err := accounts.Log(ctx, before, 2)
		if err != nil || len(page) > 2 || len(read) > 5 {
			t.Fatalf("after %v: %+v, %v", read, page, err)
		}
		if len(page) == 0 {
			break
		}
		for _, e := range page {
			read, before = append(read, e.Status), e.Seq
		}
	}
	if want := []int{204, 203, 202, 201, 200}; !slices.Equal(read, want) {
		t.Errorf("read were %v, want %v", read, want)
	}
}

// admitsAgain: whoever's answer was lost is let in once more with a new recovery
// code; not twice by what was read once, nor after the password was changed or
// all were logged out since. What is refused leaves the code that was given.
func admitsAgain(t *testing.T, s notebook.Store) {
	accounts, ok := s.(notebook.Accounts)
	if !ok {
		t.Skip("it keeps no accounts")
	}
	ctx, ann := context.Background(), New().Person
	credential := func(kind notebook.CredentialKind, hash string) notebook.Credential {
		return notebook.Credential{ID: notebook.NewID(), Kind: kind, Hash: hash, Person: ann.ID, By: ann.ID, Made: At, Expires: At.AddDate(0, 0, 7)}
	}
	link, used, printed := credential(notebook.InvitationCredential, "link"), credential(notebook.UsedCredential, "used"), credential(notebook.RecoveryCredential, "printed 1")
	account := notebook.Account{Person: ann.ID, Login: "ann", Hash: "x", Made: At, Since: At}
	if err := errors.Join(accounts.SaveCredential(ctx, link), accounts.Admit(ctx, notebook.Admission{Person: ann, Account: account, Invitation: link.ID, Used: &used, Recovery: &printed})); err != nil {
		t.Fatal(err)
	}
	code := func(hash string) notebook.Code {
		_, err := accounts.CredentialBy(ctx, notebook.RecoveryCredential, hash, At)
		return notebook.CodeOf(err)
	}
	again := func(name, hash string, was notebook.Credential, change func(*notebook.Account), want notebook.Code) notebook.Credential {
		now, read := was, account
		now.Data = []byte(hash)
		if change != nil {
			change(&read)
		}
		err := accounts.AdmitAgain(ctx, notebook.Readmission{Account: read, Was: was, Now: now, Recovery: credential(notebook.RecoveryCredential, hash)})
		if notebook.CodeOf(err) != want || code(hash) != want {
			t.Errorf("%s: %v, and its code: %q", name, err, code(hash))
		}
		return now
	}
	next := again("once more", "printed 2", used, nil, "")
	if code("printed 1") != notebook.NotFound {
		t.Error("the first code, which nobody read, still opens")
	}
	again("by what was read before", "printed 3", used, nil, notebook.NotFound)
	again("after another password", "printed 4", next, func(a *notebook.Account) { a.Hash = "y" }, notebook.NotFound)
	again("after all were logged out", "printed 5", next, func(a *notebook.Account) { a.Since = At.Add(-time.Hour) }, notebook.NotFound)
	if code("printed 2") != "" {
		t.Error("a refusal took the code away")
	}
	again("and once more", "printed 6", next, nil, "")
}
