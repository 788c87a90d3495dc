// Package trial plans measurements that answer one question about a bow and
// turns what was measured into a verdict with its doubt: the brace-height
// trial, two set-ups compared, one setting at three levels, two or three
// settings at once, the bare shaft and the walk-back.
//
// Every verdict carries its value, its interval, the number of arrows behind
// it, what it assumes, warnings, and what would change it. "Cannot tell yet"
// is a result, not an error; an error means that the input cannot be what the
// person meant. The interval of a size always inverts the test that gave the
// verdict, so the two cannot disagree.
//
// Simulated reference distributions take a seed argument: the same readings
// and the same seed give the same verdict to the last bit.
//
// What the package does not know: why a setting does what it does. It reads
// shots and readings only; the bow's model stands beside it in workbench.
package trial
