package storetest

import (
	"context"
	"sync"
	"testing"

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
