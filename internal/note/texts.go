package note

import "strings"

// code names one kind of problem or warning.
type code string

// text is what a code says, and what to type instead. {name} stands for a value
// of the place where it is reported.
type text struct{ message, want string }

const wantAnswer = "write + (did it), - (did not) or x (did something else)"

// texts holds every sentence about a note in one place.
var texts = map[code]text{
	// the note and its lines
	"note-long":     {"the note has {n} bytes; a note has at most 1 MiB", "give one note, not a collection"},
	"note-empty":    {"the note is empty", "write a line such as dog: Pip; handler: Maren; start: today 9:10; place: yard and a line for each cue, such as sit 3+"},
	"note-nothing":  {"the note has no trials and no remarks", "add a line for each cue, such as sit 3+"},
	"more-problems": {"more problems follow; these come first", ""},
	"not-utf8":      {"this is not UTF-8 text", "save the note as UTF-8 and try again"},
	"not-text":      {"this is not text", "give the note as a text file"},
	"control":       {"this is not text: it has the control character {w}", "give the note as a text file"},
	"line-long":     {"the line has {n} characters; a line has at most {most}", "put each cue on a line of its own"},
	"many-trials":   {"these are more than {n} trials, which no note has", "log a tally such as 8/10, or several notes"},

	// context
	"missing-dog":     {"the note does not say which dog", ""},
	"missing-start":   {"the note does not say when", ""},
	"next-start":      {"this session has no start: every dog and session needs its own", ""},
	"missing-handler": {"the note does not say who gave the cues", ""},
	"missing-place":   {"the note does not say where", ""},
	"unsaid":          {"{what} not said: kept as unknown", ""},
	"not-arrived":     {"{dog} had not arrived on {day}", "check the date"},
	"no-key":          {"\"{w}\" has no key", "write key: value, several on a line with ; between, as in place: back field; leash: off"},
	"unknown-key":     {"\"{w}\" is not a key of a context line", "the keys are {keys}; put > before a remark"},
	"key-twice":       {"{key} is given twice on this line", "keep one of them"},
	"no-value":        {"{key} has no value", "write it as {example}"},
	"no-colons":       {"a context line needs a colon behind each key", "write {line}"},
	"comma-header":    {"the keys are parted by a comma: read as {line}", "a ; between them is safe"},
	"cue-colon":       {"\"{w}\" is no place, it reads like marks: a cue needs no colon", "write {cue} {w}"},
	"bad-value":       {"\"{w}\" is not a {what}", "write {example}"},
	"distraction":     {"\"{w}\" is not a distraction code", "write 0 (familiar, quiet), 1 (mild), 2 (people or calm dogs within 10 m), 3 (moving dogs or children close by, food on the ground) or 4 (this dog's hardest thing)"},
	"part":            {"\"{w}\" is not a part", "part: is written by the program; leave it out"},
	"collar-worn":     {"\"{w}\" does not say when the collar was on", "write collar: on 8:00, off 12:10"},
	"owner-score":     {"\"{w}\" cannot be read", "write owner: repeated 3, late 1"},
	"start":           {"{err}", "{want}"},
	"day-only":        {"{day} has no time of day: kept as 0:00", "add the time, as in {day} 9:10"},
	"clock-twice":     {"{err}", ""},
	"future":          {"{at} is in the future: it is {now} now", "check the date and the year"},
	"long-ago":        {"{day} is too long ago", "check the year"},
	"name-unknown":    {"no {kind} is called \"{w}\"", "add {it} with `firstcue {kind} add`, or {command} with --new"},
	"name-close":      {"no {kind} is called \"{w}\", and it is too close to a known name to be new", "if it is another, add it first with `firstcue {kind} add`"},
	"name-odd":        {"\"{w}\" is no name for a new {kind}", "a new name has at most three words and no marks; put ; between keys, and > before a remark"},
	"name-several":    {"\"{w}\" fits more than one {kind}: {which}", "write the full name of the one you mean; two of one name need an alias each"},
	"no-collar":       {"{dog} is trained without a collar", "leave it out; `firstcue dog set` changes what the owner agreed to"},
	"no-collar-level": {"{dog} is trained without a collar: there is no level to write", "ask the owner first"},
	"level-zero":      {"level 0 is not a correction", "leave it out if the collar was not used"},
	"too-young":       {"{dog} is under six months old on {day}, and makers' guides say not under 6 months", "leave the level out, or correct the day of birth with `firstcue dog set`"},
	"collar-hold":     {"no collar for {dog} on {day}: vet hold {hold}", "leave the level out; `firstcue dog hold` ends the hold when the vet says so"},
	"level-device":    {"a level needs a device: the same number means something else on another collar", "add a line such as device: NAME above"},
	"dial":            {"{device} has no level {n}: its dial runs {dial}", "check the number, or the device"},
	"vet-hold":        {"{what} is on vet hold on {day}: {hold}", "leave the line out, or log with --in-hold: the trial is kept and left out of every figure"},
	"vet-hold-kept":   {"{what} is on vet hold on {day}: {hold}; kept, and left out of every figure", ""},

	// cues
	"two-cues":      {"\"{w}\" fits two cues: {which}", "write the name of the cue you mean"},
	"not-cue":       {"\"{w}\" is not a cue", "a line begins with a cue; add a new one with `firstcue cue add`, and put > before a remark"},
	"no-cues-known": {"\"{w}\" is not a cue", "no cue is known yet; add one with `firstcue cue add`"},
	"cue-inside":    {"\"{w}\" is not a cue", "begin the line with \"{cue}\"; name the dog on a line such as dog: Pip, and put > before a remark"},
	"no-cue":        {"\"{w}\" has no cue", "a line begins with a cue, as in sit 3+"},
	"second-cue":    {"\"{w}\" is a second cue on this line", "put it on a line of its own"},
	"cues-new":      {"\"{w}\" is not a cue yet", "add it with `firstcue cue add`, or {command} with --new"},

	// numbers
	"two-decimals":   {"\"{w}\" has two decimal marks", "which is the number? Write one, or put a blank after each comma"},
	"thousands":      {"\"{w}\" could be {a} or {b}", "write it with a dot, as {a}, or without a mark"},
	"large":          {"\"{w}\" is too large", ""},
	"not-time":       {"\"{w}\" is not a time", "write m:ss, as 2:05, or h:mm:ss"},
	"no-such-time":   {"there is no time \"{w}\"", "write m:ss, as 2:05, or h:mm:ss; seconds and minutes run to 59"},
	"not-tally":      {"\"{w}\" is not a tally", "write a tally as 8/10, and a date only after start:, as 2026-03-04"},
	"tally-large":    {"\"{w}\" is more trials than a session has", "write a tally of at most 1000"},
	"tally-none":     {"\"{w}\" counts no trials", "write a tally as yes/of, as in 8/10"},
	"tally-over":     {"\"{w}\" is more answers than trials", "write {b}/{a} if {b} of {a} were on the first ask"},
	"point":          {"the digit after \"point\" is missing", "write the number in digits, as 1.8"},
	"run-on":         {"two numbers run into each other", "write them in digits, as 1.8>5.1"},
	"misheard":       {"\"{w}\" may be the digit {n}", "write the digit or delete the word"},
	"bare-response":  {"\"{n}\" alone could be metres, seconds, a level or a count", "write {n}m (away), +{n} (answered after {n} s), @{n} (level) or {n}+ (so many)"},
	"bare-hold":      {"\"{n}\" alone could be seconds, minutes, metres, a level or a count", "write {n}s, {n} min, {n} m away, @{n} or {n}+ (so many)"},
	"bare-walk":      {"\"{n}\" alone could be minutes, breaks or a level", "write {n} min, {n}- (breaks) or @{n} (level)"},
	"bare-320":       {"\"{n}\" alone could be minutes and seconds, breaks or a level", "write {t} for {m} min {s} s, {n}- (breaks) or @{n} (level)"},
	"bare-after":     {"\"{w}\": the {n} could be seconds, metres, a level or how often", "write {mark}{n}s (seconds), {mark} {n}m (metres), {mark} @{n} (level) or {n}+ (so many)"},
	"decimal-list":   {"\"{a}, {b}\" could be {a}.{b} or two numbers", "write {a}.{b}, or give each number its mark, as in +{a}, +{b}"},
	"two-readings":   {"\"{w}\": the {n} could be seconds, a level, or how often", "write {a}{n}s {b} (seconds), {a} @{n} {b} (level) or {a}, {n}{b} (so many)"},
	"min-number":     {"\"{w}\": the {n} behind the minutes could be seconds or something else", "write {m}:{ss}, or put the unit behind: {m} min {n} s"},
	"metres-minutes": {"\"{w}\" could be minutes or metres", "write {n}:00 or {n} m away"},
	"unit-number":    {"\"{w}\": m is metres", "write a time as 3:20, a distance as 15m"},
	"times":          {"\"{w}\" could be how often, or wrong answers", "write {n}+ if the dog did it {n} times, x for each wrong answer"},
	"count":          {"{n} times in one line cannot be right", "write at most 100, or a tally such as 8/10"},
	"count-word":     {"\"{w}\": the {n} could be a count, metres, seconds or a level", "write {n}{mark} (so many), {n}m, {n}s or @{n}; a count in words comes first, as in sit three yes"},
	"number-sign":    {"\"{w}\" could be a level, a count or the beginning of a comment", "write @{n} (level) or {n}+ (so many); put a blank behind # for a comment"},

	// marks
	"not-mark":      {"\"{w}\" is not a mark", "write + yes, - no, x wrong, @9 level, help, ?, early, already, 8/10, or a remark on a line of its own with > before it"},
	"picture":       {"\"{w}\" could be decoration or an answer", "write + or -"},
	"separator":     {"the dash behind \"{cue}\" could be a miss or only a dash", "leave it out, or write -, before the rest if it is a miss"},
	"no-good":       {"\"{w}\" could be one answer or two", "write no, or no, yes"},
	"mixed":         {"words and signs are mixed here: is it one trial or two?", "write + - for one trial asked twice, or yes, no with commas for two"},
	"slip":          {"\"{w}\" has two readings", "write +{n} or +, -{n}"},
	"tally-glued":   {"\"{w}\" could be a tally or a fraction of a second", "put a comma before a tally, or write seconds as 0.5"},
	"tally-walk":    {"{cue} is walked, not counted: \"{w}\" says nothing about minutes", "write minutes and breaks, as in {cue} 3:20 2-"},
	"tally-inside":  {"the tally {w} comes in the middle of a trial", "put a comma before it"},
	"between":       {"\"{w}\" could belong to the answer before it or to the next", "put a comma before or behind it"},
	"twice":         {"\"{w}\" is said twice for one trial", "keep one of them"},
	"distance":      {"a distance of {n} m cannot be right", "write metres as 15m or feet as 50ft"},
	"latency-long":  {"{n} s is longer than any answer takes", "write seconds, at most {most}; a trial given up is -"},
	"ended-before":  {"it ended at {b} s, before it began at {a} s", "write start>end, as in +1.8>5.1"},
	"repeated-time": {"one time for several marks", "write each mark with its own time, as in +1.2, +1.4"},
	"after-arrow":   {"the number after > is missing", "write +1.8>5.1, or +1.0>- when it was not finished"},
	"beside-arrow":  {"the number beside > is missing", "write +1.2> when the position was begun after 1.2 s, +>1.8 when it was taken after 1.8 s"},
	"taken-twice":   {"the position is taken twice", "keep one of them; - when it broke"},
	"begun":         {"begun and not finished is for one response, with the time it began", "write +1.0>- for a response; - 0:45 when a hold broke"},
	"held-or-taken": {"\"{w}\" after a hold could be how long it was held, or how soon the position was taken", "write {cue} {n} + or released {n} (held so long), +{s}> (taken after {s} s)"},
	"x-nothing":     {"x: names nothing", "write x, or what the dog did, as in x:sat"},
	"help-nothing":  {"help: names nothing", "write help, or which, as in help:lure"},
	"level-missing": {"the number after \"{w}\" is missing", "write the dial position, as @9, or @leash, @verbal, @tone or @vibration"},
	"level-two":     {"\"@{w}\" could be one level or two", "write @{a}.{b}, or @{a} @{b}"},
	"walk-latency":  {"a walk has no latency", "write minutes and breaks, as in {cue} 3:20 2-"},
	"walk-wrong":    {"a walk has breaks, not wrong answers", "write - for a break; what happened goes into a remark"},
	"walk-break-at": {"a break in a walk has no time", "put a comma before the next walk: {cue} 4:00 2-, 3:30 7-"},
	"walk-breaks":   {"\"{w}\" does not say how many", "write - for a break, 2- or two breaks for two"},
	"walk-inside":   {"\"{w}\" comes in the middle of a walk", "put a comma before the next walk: {cue} 4:00 2-, 3:30 7-"},
	"walk-long":     {"a walk of {w} cannot be right", "write at most 6 hours, as in {cue} 3:20"},
	"walk-released": {"a walk is not released after a time", "write the minutes walked first, as in {cue} 3:20 2-"},
	"hold-long":     {"{cue} cannot be held for {w}", "write at most 24 hours"},
	"hold-inside":   {"\"{w}\" in the middle of a trial could be the next target or when it ended", "write {cue} {w} + (held so long), - {w} (broke then), released {w}, or a comma before the next target"},
	"hold-behind":   {"\"{w}\" behind the answer could be how long it was held or the next target", "write {cue} {w} +"},
	"hold-broken":   {"{cue} had broken already", "put a comma between two trials: - 0:45, released 1:10"},
	"no-length":     {"{cue} has no length, so \"{w}\" has no place here", "write a latency behind its mark, as in +1.8"},
	"not-hold":      {"{cue} is not a hold: it is not released and does not break", "write + (did it) or - (did not)"},
	"answer-none":   {"{cue} has no answer", wantAnswer},
	"hold-none":     {"{cue} has no answer", "write + (held), - 0:45 (broke then) or released 1:10"},
	"walk-none":     {"{cue} has no time: how long was the walk?", "write the minutes walked, as in {cue} 3:20 2-; 5m is five metres, 5 min five minutes"},
	"late":          {"\"{w}\" begins another {cue}, and that has no answer", "a mark after + belongs to the next trial: put it before the +, or add the answer"},
	"late-walk":     {"\"{w}\" begins another {cue}, and that has no time", "a comma ends a walk: write its breaks without one, as in {cue} 3:20 2-"},
	"start-clock":   {"start needs a clock", "write 1:12.0 start on a line of its own; without a clock write +1.8>5.1"},

	// timed notes
	"clock-back":    {"the clock runs backwards: {w} after {last}", "put the lines in order, or give the later session its own start:"},
	"clock-empty":   {"there is nothing after the clock", "write a cue or a mark, as in 0:14.2 sit"},
	"clock-which":   {"\"{w}\" could be the time of day or a stopwatch, and it does not fit the start at {start}", "correct the start, or write a stopwatch with a fraction, as {w}.0"},
	"clock-mixed":   {"\"{w}\" is no time of day, as the clocks above are", "write every line of the session in one kind of clock"},
	"clock-number":  {"the clock at the head of the line says when", "leave the number out, or put it on the line of the cue"},
	"clock-second":  {"\"{w}\" is a second time on this line", "the clock at the head of the line says when; start a new line for the next event"},
	"timed-ended":   {"\"{w}\" comes after the trial has ended", "with a clock each trial needs its own line with its cue"},
	"timed-nothing": {"a trial that was {w} has nothing more", "put the rest on a line of its own with its cue"},
	"timed-apart":   {"\"{w}\" needs its cue", "write it with the clock and the cue, as in 6:01.6 early sit"},
	"timed-again":   {"a cue given again needs its own line", "write the clock and the cue once more"},
	"timed-yes":     {"a walk ends with release", "write release at its end, - at each break"},
	"timed-release": {"release needs a clock", "write 5:06.8 release"},
	"timed-start":   {"start has no cue before it", "write the cue with its clock first"},
	"timed-walk":    {"{cue} has no end: how long was it?", "add a line such as 5:06.8 release before the next cue"},
	"timed-hold":    {"{cue} has no end: was it released, or did it break?", "add a line such as 5:06.8 release, or 2:50 - when it broke"},
	"timed-next":    {"{cue} has no release: read as ended after {t}, where the next cue begins", "write a line such as {at} release if it ended sooner"},

	// warnings about what was read
	"many-no":    {"{n}- is one dog asked {times}; for {n} trials write {list}", ""},
	"slow":       {"{n} s is a long time for one answer", ""},
	"over-limit": {"{n} s is over the limit of {cue}, {limit} s: no first-cue answer", ""},
	"read-two":   {"\"{w}\" is read as a success and a refusal after {n}; if it is one success, write +{n}", ""},
	"long-dash":  {"the long dash is read as one -; phones make it of two", "write - - if the cue was given twice"},
	"over-hold":  {"{cue} broke at {t}, after its target of {target}", ""},
}

// say makes a Problem of a code; with is pairs of name and value.
func say(c code, with ...string) Problem {
	t, ok := texts[c]
	if !ok {
		panic("note: no text for " + string(c))
	}
	var pairs []string
	for i := 0; i+1 < len(with); i += 2 {
		pairs = append(pairs, "{"+with[i]+"}", with[i+1])
	}
	r := strings.NewReplacer(pairs...)
	return Problem{Code: string(c), Message: r.Replace(t.message), Want: r.Replace(t.want)}
}
