package report

import (
	"context"

	"tautline/notebook"
)

// Hand is the hand that the archer of a bow draws with, as the actor may see
// them. Stiff and weak, in and out are said for who shoots the bow, whoever
// reads it: a right-handed coach reads a left-handed archer's bow in that
// archer's words. The demo's archer draws with the right hand, also where the
// demo stands beside somebody's own bows; so does one whom the notebook does
// not know any more.
func (m Maker) Hand(ctx context.Context, actor notebook.ID, bow notebook.Bow) (notebook.Hand, error) {
	archer, err := m.Archer(ctx, actor, bow)
	return archer.Hand, err
}

// Archer is whose bow it is, as the actor may see them. A bow of the demo, and
// one whose archer the notebook does not know any more, has one without a name
// who draws with the right hand.
func (m Maker) Archer(ctx context.Context, actor notebook.ID, bow notebook.Bow) (notebook.Person, error) {
	nobody := notebook.Person{Hand: notebook.RightHanded}
	if m.Invented != nil && m.Invented(bow.ID) {
		return nobody, nil
	}
	archer, err := m.Notebook.People().Get(ctx, actor, bow.Owner)
	if notebook.CodeOf(err) == notebook.NotFound {
		return nobody, nil
	}
	return archer, err
}

// HandOf is the same of a bow's id.
func (m Maker) HandOf(ctx context.Context, actor, bow notebook.ID) (notebook.Hand, error) {
	b, err := m.Notebook.Bows().Get(ctx, actor, bow)
	if err != nil {
		return "", err
	}
	return m.Hand(ctx, actor, b)
}

// handAmong is the same where the archers have been read.
func (m Maker) handAmong(archers map[notebook.ID]notebook.Person, bow notebook.Bow) notebook.Hand {
	if archer, known := archers[bow.Owner]; known && (m.Invented == nil || !m.Invented(bow.ID)) {
		return archer.Hand
	}
	return notebook.RightHanded
}
