package store

import "strings"

// retractionsTable is where a record is taken out of sight. Its rows know their
// target alone: whose they are is asked of what they name.
const retractionsTable = "retractions"

// targetOfSession is the condition that a retraction's target is a session, or
// was noted in it.
const targetOfSession = `(r.target = ? OR EXISTS (SELECT 1 FROM readings AS x WHERE x.id = r.target AND x.session = ?)
 OR EXISTS (SELECT 1 FROM ends AS x WHERE x.id = r.target AND x.session = ?))`

// targetOfBow is the condition that a column names a bow, or a record of that
// bow. Each is looked up by its id: what was taken back is little beside what
// stands.
func targetOfBow(column string) string {
	either := []string{column + " = ?"}
	for _, own := range []string{"readings", "ends", "setups", "sessions", "recordings", "trials", "fits", "forecasts"} {
		either = append(either, "EXISTS (SELECT 1 FROM "+own+" AS x WHERE x.id = "+column+" AND x.bow = ?)")
	}
	for _, of := range [][2]string{{"trial_events", "trial"}, {"verdicts", "trial"}, {"onsets", "recording"}} {
		either = append(either, "EXISTS (SELECT 1 FROM "+of[0]+" AS x JOIN "+of[1]+"s AS y ON y.id = x."+of[1]+" WHERE x.id = "+column+" AND y.bow = ?)")
	}
	if column == "r.target" { // a ruling is about a result, never about another ruling
		either = append(either, "EXISTS (SELECT 1 FROM rulings AS z WHERE z.id = r.target AND "+targetOfBow("z.target")+")")
	}
	return "(" + strings.Join(either, " OR ") + ")"
}
