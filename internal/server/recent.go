package server

import "time"

// recent remembers values by name for as long as they are used: what has rested
// for an hour is forgotten, looked for once a minute, and any one when there
// are too many. Whoever uses it guards it.
type recent[K comparable, V any] struct {
	values map[K]stamped[V]
	swept  time.Time
}

type stamped[V any] struct {
	value V
	used  time.Time
}

const rememberFor = time.Hour

// keep remembers a value as used now, among no more than most.
func (m *recent[K, V]) keep(name K, value V, most int, now time.Time) {
	if m.values == nil {
		m.values = map[K]stamped[V]{}
	}
	if now.Sub(m.swept) >= time.Minute {
		m.swept = now
		for old, v := range m.values {
			if now.Sub(v.used) >= rememberFor {
				delete(m.values, old)
			}
		}
	}
	if _, there := m.values[name]; !there {
		for old := range m.values {
			if len(m.values) < most {
				break
			}
			delete(m.values, old)
		}
	}
	m.values[name] = stamped[V]{value, now}
}

// of gives what is remembered, the zero value when nothing is, or it has rested.
func (m *recent[K, V]) of(name K, now time.Time) (value V) {
	if v, there := m.values[name]; there && now.Sub(v.used) < rememberFor {
		value = v.value
	}
	return value
}

func (m *recent[K, V]) forget(name K) { delete(m.values, name) }
