package cli

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"tautline/unit"
)

// Numbers and measures on the command line are read as they are everywhere
// else, by package unit: with a decimal comma, with fractions, each in its own
// units; and a refusal says which flag, what is wrong and what to write, where
// the flag library would speak of floats and 64 bits.

// amounts reads every number by its kind, and measures by the type in their
// tag: type:"length" on a text keeps the text and refuses one that is none.
func amounts() []kong.Option {
	options := []kong.Option{
		kong.KindMapper(reflect.Float64, kong.MapperFunc(mapNumber)),
		kong.KindMapper(reflect.String, kong.MapperFunc(mapText)),
		kong.TypeMapper(reflect.TypeFor[time.Duration](), kong.MapperFunc(mapSpan)),
		kong.NamedMapper("length", measured(unit.ParseLength)),
		kong.NamedMapper("distance", measured(bare(unit.M))),
		kong.NamedMapper("speed", measured(bare(unit.MPS))),
		kong.NamedMapper("mass", measured(unit.ParseMass)),
		kong.NamedMapper("temperature", measured(bare(unit.DegC))),
		kong.NamedMapper("pressure", measured(bare(unit.HPa))),
	}
	for _, whole := range []reflect.Kind{reflect.Int, reflect.Int64, reflect.Uint64} {
		options = append(options, kong.KindMapper(whole, kong.MapperFunc(mapNumber)))
	}
	return options
}

// bare reads a measure whose number may stand without its unit.
func bare[T unit.Quantity](u unit.Unit[T]) func(string) (T, error) {
	return func(text string) (T, error) { return unit.ParseIn(text, u) }
}

// popText takes the text behind a flag, which for a negative number begins as
// a flag does.
func popText(ctx *kong.DecodeContext, like string) (string, error) {
	t := ctx.Scan.Peek()
	text, ok := t.Value.(string)
	if !t.IsValue() && !(ok && len(text) > 1 && text[0] == '-' && strings.ContainsRune("0123456789.,", rune(text[1]))) {
		return "", fmt.Errorf("a value is missing behind it; write it like %s", like)
	}
	ctx.Scan.Pop()
	if !ok {
		text = fmt.Sprint(t.Value)
	}
	return text, nil
}

// mapText is a text; a flag of words shows its placeholder when there is none.
func mapText(ctx *kong.DecodeContext, target reflect.Value) error {
	like := "<" + ctx.Value.Name + ">"
	if f := ctx.Value.Flag; f != nil {
		like = "--" + f.Name + "=" + strings.Trim(f.FormatPlaceHolder(), `"`)
	}
	text, err := popText(ctx, like)
	if err != nil {
		return err
	}
	target.SetString(text)
	return nil
}

// mapNumber is a number, whole where the flag counts something. None that the
// program takes is below zero; least and most in a flag's tag say more.
func mapNumber(ctx *kong.DecodeContext, target reflect.Value) error {
	counts := target.Kind() != reflect.Float64
	like := "3"
	if !counts {
		like = "3 or 2.5"
	}
	text, err := popText(ctx, like)
	if err != nil {
		return err
	}
	n, err := unit.ParseNumber(text)
	switch {
	case err != nil:
		return unread(err, like)
	case counts && n != math.Trunc(n):
		return fmt.Errorf("%q is not a whole number; write it like %s", text, like)
	}
	if err := within(ctx.Value.Tag, n, text); err != nil {
		return err
	}
	return setNumber(target, n, text)
}

// within holds a number against its flag's bounds.
func within(tag *kong.Tag, n float64, text string) error {
	least, most := 0.0, 1e15
	if says := tag.Get("least"); says != "" {
		least, _ = strconv.ParseFloat(says, 64) // ours, and a test reads them
	}
	if says := tag.Get("most"); says != "" {
		most, _ = strconv.ParseFloat(says, 64) // as above
	}
	switch {
	case n < least:
		return fmt.Errorf("%s is too little; write a number from %g on", text, least)
	case n > most && most < 1e15:
		return fmt.Errorf("%s is too much; write a number from %g to %g", text, least, most)
	case n > most:
		return fmt.Errorf("%s is too much; write a smaller number", text)
	}
	return nil
}

// setNumber keeps it; whole numbers below 1e15 are exact.
func setNumber(target reflect.Value, n float64, text string) error {
	switch target.Kind() {
	case reflect.Float64:
		target.SetFloat(n)
	case reflect.Uint64:
		target.SetUint(uint64(n))
	case reflect.Int, reflect.Int64:
		if target.OverflowInt(int64(n)) {
			return fmt.Errorf("%s is too much; write a smaller number", text)
		}
		target.SetInt(int64(n))
	}
	return nil
}

// mapSpan is a span of time: 24h, 90 min, or 0.
func mapSpan(ctx *kong.DecodeContext, target reflect.Value) error {
	const like = "24h or 30 min"
	text, err := popText(ctx, like)
	if err != nil {
		return err
	}
	d, err := time.ParseDuration(text)
	if err != nil {
		v, err := unit.ParseDuration(text)
		if err != nil {
			return unread(err, like)
		}
		d = time.Duration(float64(v) * float64(time.Second))
	}
	if d < 0 {
		return fmt.Errorf("%s is less than no time; write it like %s, or 0", text, like)
	}
	target.SetInt(int64(d))
	return nil
}

// measured checks a measure where it is typed, and keeps what was typed.
func measured[T unit.Quantity](parse func(string) (T, error)) kong.MapperFunc {
	check := func(text string) error {
		if _, err := parse(text); err != nil {
			return unread(err, "")
		}
		return nil
	}
	return func(ctx *kong.DecodeContext, target reflect.Value) error {
		if target.Kind() == reflect.String {
			text, err := popText(ctx, exampleOf(parse))
			if err != nil || text == "" {
				return err
			}
			target.SetString(text)
			return check(text)
		}
		return measures(ctx, target, check, exampleOf(parse))
	}
}

// measures are several of them, behind a flag or as the command's arguments.
func measures(ctx *kong.DecodeContext, target reflect.Value, check func(string) error, like string) error {
	var texts []string
	if ctx.Value.Flag != nil {
		text, err := popText(ctx, like)
		if err != nil {
			return err
		}
		texts = kong.SplitEscaped(text, ctx.Value.Tag.Sep)
	} else {
		for ctx.Scan.Peek().IsValue() {
			texts = append(texts, fmt.Sprint(ctx.Scan.Pop().Value))
		}
	}
	for _, text := range texts {
		if err := check(text); err != nil {
			return err
		}
		target.Set(reflect.Append(target, reflect.ValueOf(text)))
	}
	return nil
}

// exampleOf is a text that a reader takes.
func exampleOf[T unit.Quantity](parse func(string) (T, error)) string {
	_, err := parse("")
	var pe *unit.ParseError
	if errors.As(err, &pe) {
		return pe.Example
	}
	return ""
}

// unread is a refusal without the name of the field, which the flag's stands
// before; like replaces its example.
func unread(err error, like string) error {
	var pe *unit.ParseError
	if !errors.As(err, &pe) {
		return err
	}
	if like == "" {
		like = pe.Example
	}
	return fmt.Errorf("%s; write it like %s", pe.Message(), like)
}
