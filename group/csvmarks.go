package group

import (
	"fmt"
	"strings"
)

// marks decides whether a comma or a point is a table's decimal mark. 3,2 says
// so itself; 1,234 may be one and a bit, or a thousand and more as spreadsheets
// group digits, and is never guessed: the rest of the table decides, or how its
// cells stand apart, or the table is refused.
type marks struct {
	usual   byte            // decimal mark by the separator: ; goes with a comma; 0: either
	used    map[byte]bool   // by numbers that leave no doubt
	unclear map[byte][]cell // by mark, the first of them
}

type cell struct {
	line         int
	column, text string
}

func usualMark(separator rune) byte {
	switch separator {
	case ';':
		return ','
	case ',':
		return '.'
	}
	return 0
}

// see takes note of how a number is written, and whether it could be a thousand
// times as much: 1,234 m are on no target.
func (m *marks) see(line int, column, text string, thousands bool) {
	digits := strings.TrimLeft(text, "+-−")
	i := strings.IndexAny(digits, ".,")
	if i < 0 || strings.LastIndexAny(digits, ".,") != i {
		return // none, or more than one: the cell itself is refused
	}
	mark, whole, part := digits[i], digits[:i], digits[i+1:]
	if m.used == nil {
		m.used, m.unclear = map[byte]bool{}, map[byte][]cell{}
	}
	if !thousands || len(part) != 3 || len(whole) == 0 || len(whole) > 3 || whole[0] == '0' {
		m.used[mark] = true
	} else if len(m.unclear[mark]) <= mistakesListed {
		m.unclear[mark] = append(m.unclear[mark], cell{line, column, text})
	}
}

// settle refuses the numbers that stay unclear.
func (m *marks) settle(e *CSVError) {
	for _, mark := range []byte{',', '.'} {
		other := byte(','+'.') - mark
		if sure := m.used[mark] || len(m.used) == 0 && m.usual == mark; sure && !m.used[other] {
			continue
		}
		for _, c := range m.unclear[mark] {
			e.add(LineError{c.line, c.column, fmt.Sprintf("%q may be a decimal number or thousands", c.text), "write it without a mark for thousands, and with the decimal mark of the other numbers"})
		}
	}
}
