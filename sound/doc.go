// Package sound turns a recording of shots into numbers that can be compared:
// where the shots are, how loud and how sharp each one was, how fast it died
// away, what rang on, and whether one of them was not like the others.
//
// What it is not. A phone is not a sound-level meter: levels are decibels
// relative to the recording's own full scale, comparable only between
// recordings made with the same phone, place and gain (see [Conditions]). No
// recording of a real bow at known brace heights was available while this was
// written: the shot finder was tried on five sound effects and on synthesised
// shots whose truth is known, and its thresholds are our own choice where no
// source is named.
//
// The road of a recording: [Open] decodes WAV, FLAC, Ogg Vorbis, MP3 and Opus
// in small blocks; [Listen] finds the shots in the stream and measures each
// one; [Extract] cuts a piece out for pictures and playback; [LeaveOneOut] and
// [Signature] say which shot sounded unlike the rest. docs/theory/sound.md has
// the equations and their sources.
package sound
