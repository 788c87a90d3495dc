package sound

import (
	"errors"
	"fmt"
)

// Code names a kind of failure for programs; people read the error's text.
type Code string

// The ways a recording can be refused.
const (
	CodeUnknown     Code = "format_unknown"     // the first bytes belong to no sound file we know
	CodeUnsupported Code = "format_unsupported" // a known format that is not decoded here
	CodeDamaged     Code = "damaged"            // the header or the data contradict the format
	CodeEmpty       Code = "empty"              // no sound in it
	CodeLimit       Code = "limit"              // longer, wider or faster than the limits allow
	CodeSamples     Code = "samples"            // values that no sound has: NaN, infinity, absurdly large
	CodeDecoder     Code = "decoder"            // the decoder broke down on this file
	CodeTimeout     Code = "timeout"            // the decoder got stuck on this file
	CodeBusy        Code = "busy"               // too many decoders are stuck already
	CodeRead        Code = "read"               // the file could not be read
	CodeConfig      Code = "config"             // a setting of the analysis is out of range
)

// FileError says why a recording, or a setting for it, was refused and what
// to try. Nothing of the recording is to be stored when it is returned.
type FileError struct {
	Code   Code
	Field  string // what was at fault: "file", "sample rate", "onsets[2]"
	Reason string // why, as a clause
	Hint   string // what to try
	Err    error  // the cause, for a log; may be nil
}

// Error gives the whole story in one line.
func (e *FileError) Error() string {
	if e.Hint == "" {
		return fmt.Sprintf("%s: %s", e.Field, e.Reason)
	}
	return fmt.Sprintf("%s: %s; %s", e.Field, e.Reason, e.Hint)
}

// Unwrap returns the cause, so that errors.Is and errors.As see through.
func (e *FileError) Unwrap() error { return e.Err }

// ErrorCode returns the code of err if it is or wraps a FileError, else "".
func ErrorCode(err error) Code {
	var fe *FileError
	if errors.As(err, &fe) {
		return fe.Code
	}
	return ""
}

const hintFormats = "use WAV, FLAC, Ogg Vorbis, Opus or MP3"

func damaged(format Format, cause error, reason string, args ...any) *FileError {
	return &FileError{
		Code: CodeDamaged, Field: "file", Err: cause,
		Reason: fmt.Sprintf("this %s file is damaged: ", format) + fmt.Sprintf(reason, args...),
		Hint:   "copy it again from the recorder, or save it as WAV",
	}
}

func overLimit(field, hint, reason string, args ...any) *FileError {
	return &FileError{Code: CodeLimit, Field: field, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}
