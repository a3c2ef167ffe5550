package note

import (
	"strings"
)

// pair is one key: value of a context line, with places in the cleaned line.
type pair struct {
	key        string
	from, mid  int // key, value
	to         int
	value      string // cleaned, trimmed
	typedValue string // as typed, trimmed
}

// contextKey reads a key and its colon at the head of text[i:]. mid is where
// the value begins.
func contextKey(text []rune, i int) (key string, from, mid int, ok bool) {
	for i < len(text) && text[i] == ' ' {
		i++
	}
	j := i
	for j < len(text) && (text[j] >= 'a' && text[j] <= 'z' || text[j] >= 'A' && text[j] <= 'Z') {
		j++
	}
	if j == i {
		return "", i, i, false
	}
	k := j
	for k < len(text) && text[k] == ' ' {
		k++
	}
	key = strings.ToLower(string(text[i:j]))
	switch {
	case k < len(text) && text[k] == ':':
		return key, i, k + 1, true
	case k > j && strings.HasPrefix(strings.ToLower(string(text[k:])), "colon ") && keyNamed(key) != nil:
		return key, i, k + len("colon "), true
	}
	return "", i, i, false
}

// pairs cuts a context line at its semicolons, and at a comma before another key.
func (p *parser) pairs(l line, i int) []pair {
	var out []pair
	commas := false
	for i <= len(l.text) {
		end, comma := p.pairEnd(l, i)
		commas = commas || comma
		if strings.TrimSpace(string(l.text[i:end])) != "" {
			if pr, ok := p.pair(l, i, end); ok {
				out = append(out, pr)
			}
		}
		i = end + 1
	}
	if commas {
		var parts []string
		for _, pr := range out {
			parts = append(parts, pr.key+": "+pr.value)
		}
		p.warn(l, 0, len(l.text), "comma-header", "line", strings.Join(parts, "; "))
	}
	return out
}

// pairEnd finds the end of the pair at i. An address may hold a ; or , of its own.
func (p *parser) pairEnd(l line, i int) (end int, comma bool) {
	key, _, mid, _ := contextKey(l.text, i)
	k := keyNamed(key)
	for end = i; end < len(l.text); end++ {
		switch r := l.text[end]; {
		case r == ';' && (key != "link" || end+1 == len(l.text) || l.text[end+1] == ' '):
			return end, false
		case r == '#' && end == comment(l.text):
			return len(l.text), false
		case r == ',' && end > mid && k != nil:
			next, _, _, ok := contextKey(l.text, end+1)
			if x := keyNamed(next); ok && x != nil && x.name != k.name {
				return end, true
			}
		}
	}
	return end, false
}

func (p *parser) pair(l line, i, end int) (pair, bool) {
	key, from, mid, ok := contextKey(l.text[:end], i)
	if !ok {
		for from = i; l.text[from] == ' '; from++ {
		}
		p.problem(l, from, end, "no-key", "w", strings.TrimSpace(string(l.text[from:end])))
		return pair{}, false
	}
	end = min(end, max(mid, comment(l.text)))
	for mid < end && l.text[mid] == ' ' {
		mid++
	}
	to := end
	for to > mid && l.text[to-1] == ' ' {
		to--
	}
	pr := pair{key: key, from: from, mid: mid, to: to, value: string(l.text[mid:to])}
	if to > mid {
		pr.typedValue = strings.TrimSpace(string(l.typed[l.from[mid]:l.to[to-1]]))
	}
	return pr, true
}
