// Package notebook states the nouns of the archer's record and their rules:
// who shot what, with which bow, set up how, and what was measured. It knows
// no science and no storage; Store is the contract that a storage keeps.
//
// Nothing is overwritten. A set-up never changes: a change makes the next one.
// A wrong reading is answered by a new one that names the old; a deletion is a
// Retraction, which can itself be retracted. The only records with versions
// are a person's preferences and a bow's name and notes.
package notebook
