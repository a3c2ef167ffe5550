package live

import (
	"fmt"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

func (m *Machine) correct(key rune) {
	switch {
	case key == 27, key == '\b' && len(m.entry) == 0:
		m.mode, m.message = normal, "no correction"
	case key == 'l' && m.mode == correcting:
		m.corrected("leash")
	case key == 'v' && m.mode == correcting:
		m.corrected("verbal")
	case key >= '0' && key <= '9' || key == '.' && len(m.entry) > 0 && !strings.ContainsRune(string(m.entry),
		'.'):
		if m.message = m.noLevel(); m.message != "" {
			return
		}
		if len(m.entry) < 5 {
			m.entry = append(m.entry, key)
		}
		m.mode = levelling
	case key == '\b':
		if m.entry = m.entry[:len(m.entry)-1]; len(m.entry) == 0 {
			m.mode = correcting
		}
	case key == '\r' && m.mode == levelling:
		m.level(strings.TrimSuffix(string(m.entry), "."))
	default:
		m.message = "l leash, v verbal, or the level and Enter"
		if why := m.noLevel(); why != "" {
			m.message = "l leash, v verbal; no level: " + why
		}
	}
}

func (m *Machine) corrected(how string) {
	m.add(event{kind: corrected, at: m.held, text: how})
	m.mode = normal
}

func (m *Machine) level(level string) {
	device, _ := m.kennel.Device(m.fold().context["device"])
	v, err := strconv.ParseFloat(level, 64)
	switch {
	case err != nil:
		m.message = level + " is not a level"
	case device.Highest.Known && v > device.Highest.V, device.Lowest.Known && v < device.Lowest.V:
		m.message = fmt.Sprintf("the dial of %s has no %s", device.Name, level)
		m.mode, m.entry = correcting, nil
	default:
		m.corrected(level)
	}
}

// noLevel says why no level may be noted, "" when it may.
func (m *Machine) noLevel() string {
	switch {
	case m.dog.RewardOnly:
		return m.dog.Name + " is trained without a collar"
	case m.fold().context["device"] == "":
		return "no collar is set: Esc, then o c"
	}
	for _, h := range m.dog.Holds {
		if h.ForbidsCollar(training.DayOf(m.start)) {
			return "the vet hold forbids the collar"
		}
	}
	return ""
}
