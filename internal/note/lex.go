package note

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

type kind int

const (
	tNum   kind = iota // a plain number: v
	tTime              // m:ss or h:mm:ss: v in seconds
	tRatio             // yes/of
	tWord
	tSym // one character
	tBad // already reported
)

// token is one piece of a trial line.
type token struct {
	kind     kind
	s        string // lower case; for numbers as written
	v        float64
	yes, of  int
	from, to int  // in the cleaned line
	gap      bool // blanks before it
}

func (t token) is(s string) bool { return t.kind != tBad && t.s == s }

// whole reports a number written without a fraction.
func (t token) whole() bool { return t.kind == tNum && !strings.ContainsAny(t.s, ".,") }

// lex cuts the cleaned text from i on into tokens. Numbers with two readings are
// reported through bad and become tBad.
func lex(text []rune, i int, bad func(from, to int, message, want string)) []token {
	var out []token
	gap := false
	for i < len(text) {
		r := text[i]
		switch {
		case r == ' ':
			gap = true
			i++
			continue
		case asciiDigit(r) || r == '.' && i+1 < len(text) && asciiDigit(text[i+1]):
			j := numberEnd(text, i)
			t := readNumber(string(text[i:j]), func(message, want string) { bad(i, j, message, want) })
			t.from, t.to, t.gap = i, j, gap
			out = append(out, t)
			i = j
		case unicode.IsLetter(r):
			j := i
			for j < len(text) && (unicode.IsLetter(text[j]) || text[j] == '\'' || unicode.Is(unicode.Mn, text[j])) {
				j++
			}
			out = append(out, token{kind: tWord, s: strings.ToLower(string(text[i:j])), from: i, to: j, gap: gap})
			i = j
		default:
			out = append(out, token{kind: tSym, s: string(r), from: i, to: i + 1, gap: gap})
			i++
		}
		gap = false
	}
	return spoken(out, bad)
}

// numberEnd finds the end of a number: digits, with . , : / between digits. A
// comma after a tally separates.
func numberEnd(text []rune, i int) int {
	j := i
	ratio := false
	for j < len(text) {
		switch {
		case asciiDigit(text[j]):
		case j+1 < len(text) && asciiDigit(text[j+1]) && strings.ContainsRune(".,:/", text[j]):
			if text[j] == ',' && ratio {
				return j
			}
			ratio = ratio || text[j] == '/'
		default:
			return j
		}
		j++
	}
	return j
}

const noBig = 1e9 // no number of a note is as large

// readNumber reads 4, 1.8, 1,8, 3:20, 1:02:03.5 and 8/10, and refuses what has
// two readings. strconv alone would take NaN, 1e3, 0x1p-2 and 1_000 as well.
func readNumber(s string, bad func(message, want string)) token {
	fail := func(message, want string) token {
		bad(message, want)
		return token{kind: tBad, s: s}
	}
	slashes, colons := strings.Count(s, "/"), strings.Count(s, ":")
	points, commas := strings.Count(s, "."), strings.Count(s, ",")
	switch {
	case slashes > 0:
		parts := strings.Split(s, "/")
		if len(parts) != 2 || colons+points+commas > 0 {
			return fail(fmt.Sprintf("%q is not a tally", s), "write a tally as 8/10, and a date only after start:, as 2026-03-04")
		}
		// Compared before they become integers: one of twenty digits has no value
		// as an int.
		y, n := decimal(parts[0]), decimal(parts[1])
		yes, of := int(min(y, noBig)), int(min(n, noBig))
		switch {
		case y > noBig || n > noBig:
			return fail(fmt.Sprintf("%q is more trials than a session has", s), "write a tally of at most 1000")
		case of == 0:
			return fail(fmt.Sprintf("%q counts no trials", s), "write a tally as yes/of, as in 8/10")
		case yes > of:
			return fail(fmt.Sprintf("%q is more answers than trials", s), fmt.Sprintf("write %d/%d if %d of %d were on the first ask", of, yes, of, yes))
		case of > 1000:
			return fail(fmt.Sprintf("%q is more trials than a session has", s), "write a tally of at most 1000")
		}
		return token{kind: tRatio, s: s, yes: yes, of: of}
	case points+commas > 1:
		return fail(fmt.Sprintf("%q has two decimal marks", s), "which is the number? Write one, or put a blank after each comma")
	case commas == 1:
		a, b, _ := strings.Cut(s, ",")
		if len(b) == 3 && a != "0" && len(a) <= 3 && colons == 0 {
			point := strings.TrimSuffix(strings.TrimRight(a+"."+b, "0"), ".")
			return fail(fmt.Sprintf("%q could be %s or %s", s, point, a+b), fmt.Sprintf("write it with a dot, as %s, or without a mark", point))
		}
	}
	plain := strings.Replace(s, ",", ".", 1)
	if colons == 0 {
		v := decimal(plain)
		if v > noBig {
			return fail(fmt.Sprintf("%q is too large", s), "")
		}
		return token{kind: tNum, s: s, v: v}
	}
	parts := strings.Split(plain, ":")
	if len(parts) > 3 {
		return fail(fmt.Sprintf("%q is not a time", s), "write m:ss, as 2:05, or h:mm:ss")
	}
	v := 0.0
	for i, part := range parts {
		digits, _, frac := strings.Cut(part, ".")
		x := decimal(part)
		if i > 0 && (len(digits) != 2 || x >= 60) || i < len(parts)-1 && frac || len(digits) > 4 || i == 0 && len(parts) == 3 && x > 23 {
			return fail(fmt.Sprintf("there is no time %q", s), "write m:ss, as 2:05, or h:mm:ss; seconds and minutes run to 59")
		}
		v = v*60 + x
	}
	return token{kind: tTime, s: s, v: round(v)}
}

// decimal is the value of digits with at most one dot.
func decimal(s string) float64 {
	if len(s) > 30 {
		return math.Inf(1)
	}
	v, _ := strconv.ParseFloat(s, 64)
	return v
}

// round keeps milliseconds, so that 6:01.6 - 6:00.2 is 1.4.
func round(v float64) float64 { return math.Round(v*1000) / 1000 }

var numberWords = map[string]int{
	"zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
	"nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15,
	"sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19, "twenty": 20, "thirty": 30,
	"forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}

// misheard are words that dictation writes for a digit.
var misheard = map[string]string{"to": "2", "too": "2", "for": "4", "fore": "4", "ate": "8", "won": "1", "oh": "0"}

// spoken turns number words into numbers: "three", "twenty five", "one point
// eight", "eight of ten", "8 out of 10", "minus" and "plus".
func spoken(in []token, bad func(from, to int, message, want string)) []token {
	var out []token
	for i := 0; i < len(in); {
		t := in[i]
		v, n := wordNumber(in[i:])
		if n == 0 && !(t.kind == tWord && t.s == "point" && i+1 < len(in) && unit(in[i+1]) != "") {
			out = append(out, t)
			i++
			continue
		}
		t.kind, t.v, t.s = tNum, float64(v), strconv.Itoa(v)
		if n > 0 {
			t.to = in[i+n-1].to
			i += n
		}
		if i < len(in) && in[i].is("point") && in[i].kind == tWord {
			s, j := t.s+".", i+1
			for j < len(in) && unit(in[j]) != "" {
				s += unit(in[j])
				j++
			}
			switch {
			case j == i+1:
				bad(t.from, in[i].to, "the digit after \"point\" is missing", "write the number in digits, as 1.8")
				t.kind, t.to = tBad, in[i].to
			case j < len(in) && in[j].is("point"):
				bad(t.from, in[j].to, "two numbers run into each other", "write them in digits, as 1.8>5.1")
				t.kind, t.to = tBad, in[j].to
				for j++; j < len(in) && unit(in[j]) != ""; j++ {
				}
			default:
				t.s, t.v, t.to = s, decimal(s), in[j-1].to
			}
			i = j
		}
		out = append(out, t)
	}
	// eight of ten, 8 out of 10
	in, out = out, nil
	for i := 0; i < len(in); i++ {
		t := in[i]
		j := i + 1
		if j < len(in) && in[j].is("out") {
			j++
		}
		if t.whole() && j+1 < len(in) && in[j].is("of") && in[j+1].whole() {
			r := readNumber(t.s+"/"+in[j+1].s, func(message, want string) { bad(t.from, in[j+1].to, message, want) })
			r.from, r.to, r.gap = t.from, in[j+1].to, t.gap
			out = append(out, r)
			i = j + 1
			continue
		}
		out = append(out, t)
	}
	return out
}

// unit is a digit or digits said after "point", "" for anything else.
func unit(t token) string {
	if t.whole() && t.gap {
		return t.s
	}
	if v, ok := numberWords[t.s]; ok && t.kind == tWord && v < 10 {
		return strconv.Itoa(v)
	}
	return ""
}

// wordNumber reads a number at the head of the tokens: its value and how many
// tokens it takes, 0 if none. A number in digits counts only before "point".
func wordNumber(in []token) (v, n int) {
	if in[0].whole() && len(in) > 2 && in[1].is("point") && in[0].v < 1000 {
		return int(in[0].v), 1
	}
	if in[0].kind != tWord {
		return 0, 0
	}
	v, ok := numberWords[in[0].s]
	if !ok {
		return 0, 0
	}
	if v >= 20 && len(in) > 1 && in[1].kind == tWord {
		if u, ok := numberWords[in[1].s]; ok && u > 0 && u < 10 {
			return v + u, 2
		}
	}
	return v, 1
}
