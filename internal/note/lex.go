package note

import (
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
	tSym  // one character
	tPict // a picture that means yes or no, or nothing known
	tBad  // already reported
)

// token is one piece of a trial line.
type token struct {
	kind     kind
	s        string // lower case; for numbers as written
	v        float64
	yes, of  int
	from, to int  // in the cleaned line
	gap      bool // blanks before it
	said     bool // a number in words
}

func (t token) is(s string) bool { return t.kind != tBad && t.kind != tPict && t.s == s }

func (t token) word(list ...string) bool {
	if t.kind != tWord {
		return false
	}
	for _, s := range list {
		if t.s == s {
			return true
		}
	}
	return false
}

// whole reports a number written without a fraction.
func (t token) whole() bool { return t.kind == tNum && !strings.ContainsAny(t.s, ".,") }

// report takes a problem with its place in the cleaned line.
type report func(from, to int, pr Problem)

// lex cuts the cleaned text from i on into tokens. Numbers with two readings are
// reported and become tBad.
func lex(text []rune, i int, bad report) []token {
	var out []token
	gap := false
	for i < len(text) {
		r, j := text[i], i+1
		t := token{kind: tSym, s: string(r)}
		switch {
		case r == ' ', r == '.' && (j == len(text) || text[j] == ' '), strings.ContainsRune(")(\"", r):
			gap = true
			i++
			continue
		case asciiDigit(r) || r == '.' && asciiDigit(text[j]):
			j = numberEnd(text, i)
			t = readNumber(string(text[i:j]), func(pr Problem) { bad(i, j, pr) })
		case unicode.IsLetter(r):
			for j < len(text) && (unicode.IsLetter(text[j]) || text[j] == '\'' || unicode.Is(unicode.Mn, text[j])) {
				j++
			}
			t = token{kind: tWord, s: strings.ToLower(string(text[i:j]))}
		case picture(r) || strings.ContainsRune(yesPictures+noPictures, r):
			for j < len(text) && picture(text[j]) && text[j] >= 0x1F3FB && text[j] <= 0x1F3FF {
				j++
			}
			t.kind = tPict
		}
		t.from, t.to, t.gap = i, j, gap
		out = append(out, t)
		i, gap = j, false
	}
	return ratios(spoken(out, bad), bad)
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
func readNumber(s string, bad func(Problem)) token {
	fail := func(c code, with ...string) token {
		bad(say(c, append(with, "w", s)...))
		return token{kind: tBad, s: s}
	}
	colons := strings.Count(s, ":")
	points, commas := strings.Count(s, "."), strings.Count(s, ",")
	switch {
	case strings.Contains(s, "/"):
		return readTally(s, fail)
	case points+commas > 1:
		return fail("two-decimals")
	case commas == 1:
		a, b, _ := strings.Cut(s, ",")
		if len(b) == 3 && a != "0" && len(a) <= 3 && colons == 0 {
			point := strings.TrimSuffix(strings.TrimRight(a+"."+b, "0"), ".")
			return fail("thousands", "a", point, "b", a+b)
		}
	}
	plain := strings.Replace(s, ",", ".", 1)
	if colons > 0 {
		return readLength(s, plain, fail)
	}
	v := decimal(plain)
	if v > noBig {
		return fail("large")
	}
	return token{kind: tNum, s: s, v: v}
}

func readTally(s string, fail func(code, ...string) token) token {
	parts := strings.Split(s, "/")
	if len(parts) != 2 || strings.ContainsAny(s, ":.,") {
		return fail("not-tally")
	}
	// Compared before they become integers: one of twenty digits has no value as
	// an int.
	y, n := decimal(parts[0]), decimal(parts[1])
	yes, of := int(min(y, noBig)), int(min(n, noBig))
	switch {
	case y > noBig || n > noBig:
		return fail("tally-large")
	case of == 0:
		return fail("tally-none")
	case yes > of:
		return fail("tally-over", "a", strconv.Itoa(yes), "b", strconv.Itoa(of))
	case of > 1000:
		return fail("tally-large")
	}
	return token{kind: tRatio, s: s, yes: yes, of: of}
}

func readLength(s, plain string, fail func(code, ...string) token) token {
	parts := strings.Split(plain, ":")
	if len(parts) > 3 {
		return fail("not-time")
	}
	v := 0.0
	for i, part := range parts {
		digits, _, frac := strings.Cut(part, ".")
		x := decimal(part)
		if i > 0 && (len(digits) != 2 || x >= 60) || i < len(parts)-1 && frac || len(digits) > 4 || i == 0 && len(parts) == 3 && x > 23 {
			return fail("no-such-time")
		}
		v = v*60 + x
	}
	return token{kind: tTime, s: s, v: round(v)}
}

// decimal is the value of digits with at most one dot.
func decimal(s string) float64 {
	if len(s) > 30 {
		return noBig * 10
	}
	v, _ := strconv.ParseFloat(s, 64)
	return v
}

var numberWords = map[string]int{
	"zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
	"nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15,
	"sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19, "twenty": 20, "thirty": 30,
	"forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}

// misheard are words that dictation writes for a digit.
var misheard = map[string]string{"to": "2", "too": "2", "for": "4", "fore": "4", "ate": "8", "won": "1", "oh": "0"}

// spoken turns number words into numbers: "three", "twenty five", "twenty-five",
// "one point eight".
func spoken(in []token, bad report) []token {
	var out []token
	for i := 0; i < len(in); {
		t := in[i]
		v, n := wordNumber(in[i:])
		lone := t.word("point") && i+1 < len(in) && unit(in[i+1]) != ""
		if n == 0 && !lone {
			out = append(out, t)
			i++
			continue
		}
		t.said = t.kind == tWord
		t.kind, t.v, t.s = tNum, float64(v), strconv.Itoa(v)
		if n > 0 {
			t.to = in[i+n-1].to
			i += n
		}
		if i < len(in) && in[i].word("point") {
			t, i = pointed(t, in, i, bad)
		}
		out = append(out, t)
	}
	return out
}

// pointed adds what was said after "point", which is in[i].
func pointed(t token, in []token, i int, bad report) (token, int) {
	s, j := t.s+".", i+1
	for j < len(in) && unit(in[j]) != "" {
		s += unit(in[j])
		j++
	}
	switch {
	case j == i+1:
		bad(t.from, in[i].to, say("point"))
		t.kind, t.to = tBad, in[i].to
	case j < len(in) && in[j].is("point"):
		bad(t.from, in[j].to, say("run-on"))
		t.kind, t.to = tBad, in[j].to
		for j++; j < len(in) && unit(in[j]) != ""; j++ {
		}
	default:
		t.s, t.v, t.to = s, decimal(s), in[j-1].to
	}
	return t, j
}

// ratios joins 8 / 10, eight of ten, 8 out of 10 and 3 for 5.
func ratios(in []token, bad report) []token {
	var out []token
	for i := 0; i < len(in); i++ {
		t := in[i]
		j := i + 1
		if j < len(in) && in[j].word("out") {
			j++
		}
		if !t.whole() || j+1 >= len(in) || !in[j+1].whole() || !in[j].word("of", "for") && !(in[j].is("/") && j == i+1) {
			out = append(out, t)
			continue
		}
		last := in[j+1]
		r := readNumber(t.s+"/"+last.s, func(pr Problem) { bad(t.from, last.to, pr) })
		r.from, r.to, r.gap = t.from, last.to, t.gap
		out = append(out, r)
		i = j + 1
	}
	return out
}

// unit is a digit or digits said after "point", "" for anything else.
func unit(t token) string {
	if t.whole() && t.gap && !t.said {
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
	if in[0].whole() && len(in) > 2 && in[1].word("point") && in[0].v < 1000 {
		return int(in[0].v), 1
	}
	v, ok := numberWords[in[0].s]
	if in[0].kind != tWord || !ok {
		return 0, 0
	}
	next := 1
	if len(in) > 2 && in[1].is("-") && !in[1].gap && !in[2].gap {
		next = 2
	}
	if v >= 20 && len(in) > next && in[next].kind == tWord {
		if u, ok := numberWords[in[next].s]; ok && u > 0 && u < 10 {
			return v + u, next + 1
		}
	}
	return v, 1
}
