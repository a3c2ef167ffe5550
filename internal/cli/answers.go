package cli

import (
	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// What --format json writes, as one type an answer. The comments of the fields are
// the descriptions of docs/schemas: they are published (make schemas).

// handlersJSON is everybody on the kennel's list.
type handlersJSON struct {
	Schema   string             `json:"schema"`
	Handlers []training.Handler `json:"handlers"` // everybody who gives cues or scores them
}

// placesJSON is the kennel's places.
type placesJSON struct {
	Schema string           `json:"schema"`
	Places []training.Place `json:"places"` // where sessions are held
}

// devicesJSON is the kennel's collars.
type devicesJSON struct {
	Schema  string            `json:"schema"`
	Devices []training.Device `json:"devices"` // collars with a dial
}

// cuesJSON is the kennel's cues.
type cuesJSON struct {
	Schema string         `json:"schema"`
	Cues   []training.Cue `json:"cues"` // what the dogs are asked
}

// dogsJSON is the dogs that are here, or with --all every dog.
type dogsJSON struct {
	Schema string         `json:"schema"`
	Dogs   []training.Dog `json:"dogs"` // in order of name
}

// dogJSON is what is entered for one dog.
type dogJSON struct {
	Schema string       `json:"schema"`
	Dog    training.Dog `json:"dog"` // what is entered
}

// criteriaJSON is the bars in force.
type criteriaJSON struct {
	Schema string    `json:"schema"`
	Dog    string    `json:"dog"`  // "" = the kennel's bars
	Cue    string    `json:"cue"`  // "" = every cue
	Bars   []barJSON `json:"bars"` // every bar, set or not
}

// barJSON is one bar.
type barJSON struct {
	Name    string       `json:"name"`    // as firstcue criteria set takes it
	Value   training.Num `json:"value"`   // in Unit; null = it differs by cue, or there is none
	Unit    string       `json:"unit"`    // of the value, in words
	From    string       `json:"from"`    // what set it: a dog, a cue, the kennel, or the program
	Meaning string       `json:"meaning"` // what the bar asks for, in words
}

// trackRecordJSON compares past chances of being ready with what became of them.
type trackRecordJSON struct {
	Schema string `json:"schema"`
	analysis.Track
}

// draftsJSON is the notes that could not be stored and were kept.
type draftsJSON struct {
	Schema string      `json:"schema"`
	Drafts []draftJSON `json:"drafts"` // oldest first
}

// draftJSON is one note that waits to be put right.
type draftJSON struct {
	ID   int64  `json:"id"`   // what firstcue draft show takes
	Name string `json:"name"` // of the file or the pipe that it came from
	At   string `json:"at"`   // when it was kept; RFC 3339
	Text string `json:"text"` // word for word
}

// incidentsJSON is open incidents, or with --all every incident.
type incidentsJSON struct {
	Schema    string              `json:"schema"`
	Incidents []training.Incident `json:"incidents"` // oldest first
}

// sessionJSON is a session.
type sessionJSON struct {
	training.Session
	// Note is a note of its own that gives this session again.
	Note      string  `json:"note"`
	Rescores  *string `json:"rescores"`  // session that this is a second scoring of; null = none
	Withdrawn *string `json:"withdrawn"` // why it was withdrawn; null = it stands
}

func sessionToJSON(s training.Session) sessionJSON {
	return sessionJSON{s, noteOf(s), orNull(s.Rescores), orNull(s.Voided)}
}

// sessionsJSON is sessions, oldest first.
type sessionsJSON struct {
	Schema   string        `json:"schema"`
	Sessions []sessionJSON `json:"sessions"` // oldest first
}

// oneSessionJSON is one session.
type oneSessionJSON struct {
	Schema  string      `json:"schema"`
	Session sessionJSON `json:"session"` // the form in force
}

// historyJSON is every form that a session has had.
type historyJSON struct {
	Schema    string         `json:"schema"`
	ID        string         `json:"id"`        // of the session
	Revisions []revisionJSON `json:"revisions"` // oldest first
}

// revisionJSON is one form of a session.
type revisionJSON struct {
	Form      string      `json:"form"`      // its ID, what firstcue session settle takes
	Writer    string      `json:"writer"`    // ID of the store it was written in
	ToSettle  bool        `json:"toSettle"`  // two stores say the session differently, and this is one form
	Revision  int         `json:"revision"`  // 1 = as first logged
	At        string      `json:"at"`        // when it was written; RFC 3339
	Why       string      `json:"why"`       // reason given for the change; "" = none, or the first form
	Withdrawn *string     `json:"withdrawn"` // why it was withdrawn; null = it stands
	InForce   bool        `json:"inForce"`   // the form that counts
	Session   sessionJSON `json:"session"`   // as it was said
}

// agreementJSON compares two scorings of one session, trial by trial. Equal totals
// are not agreement and are not given.
type agreementJSON struct {
	Schema   string   `json:"schema"`
	Dog      string   `json:"dog"`      // whose session it is
	Sessions []string `json:"sessions"` // IDs of the first and the second scoring
	Scorers  []string `json:"scorers"`  // who scored the first and the second
	analysis.ScorerAgreement
	Pairs  []pairJSON `json:"pairs"`  // every trial of either scoring, in order
	Differ []pairJSON `json:"differ"` // those that the two scored differently
}

// pairJSON is one trial as two people scored it.
type pairJSON struct {
	Trial  int    `json:"trial"`  // 1 = first of the first scoring
	Cue    string `json:"cue"`    // what was asked
	First  *bool  `json:"first"`  // the first scorer saw an answer; null = not scored
	Second *bool  `json:"second"` // the second scorer did; null = not scored
}

// refusedJSON is what is wrong with a note of which nothing was stored. Exit code 2.
type refusedJSON struct {
	Schema   string        `json:"schema"`
	Stored   int           `json:"stored"`   // sessions stored: 0
	Problems []problemJSON `json:"problems"` // in order of line
}

// problemJSON is one thing in a note that cannot be stored as it stands.
type problemJSON struct {
	File    string   `json:"file"`    // where the note came from
	Line    int      `json:"line"`    // 1 = first; 0 = the note as a whole, or a flag
	Column  int      `json:"column"`  // in characters, 1 = first; 0 = the line as a whole
	Text    string   `json:"text"`    // the line as it was typed
	Message string   `json:"message"` // what is wrong
	Want    string   `json:"want"`    // what to type instead; "" = no advice
	Near    []string `json:"near"`    // known names close to the one typed
}

// dryRunJSON is what would be stored.
type dryRunJSON struct {
	Schema   string        `json:"schema"`
	DryRun   bool          `json:"dryRun"`   // true: nothing was stored
	Sessions []sessionJSON `json:"sessions"` // as they were understood
	New      []nameJSON    `json:"new"`      // names that would be added to the lists
}

// nameJSON is a name that is new to the kennel's lists.
type nameJSON struct {
	Kind string `json:"kind"` // dog, handler, place, device or cue
	Name string `json:"name"` // as it was typed
}

// storedJSON is what was stored, and what it changed.
type storedJSON struct {
	Schema   string       `json:"schema"`
	Stored   int          `json:"stored"`   // sessions stored or amended
	Sessions []loggedJSON `json:"sessions"` // in order of the notes
	Cues     []changeJSON `json:"cues"`     // what changed for each cue that was asked
}

// loggedJSON is a session and what became of it.
type loggedJSON struct {
	sessionJSON
	What string `json:"what"` // stored, amended, second-scoring, already-stored, ...
}

// changeJSON is what a log changed for one cue.
type changeJSON struct {
	Dog           string           `json:"dog"`           // whose cue it is
	Cue           string           `json:"cue"`           // what was asked
	Before        *analysis.Tally  `json:"before"`        // counts of the stay until then; null = never asked
	After         *analysis.Tally  `json:"after"`         // counts of the stay now; null = none counts
	NowBefore     training.Num     `json:"nowBefore"`     // present figure until then, 0 to 1; motion: breaks a minute
	Now           training.Num     `json:"now"`           // present figure, 0 to 1; motion: breaks a minute
	VerdictBefore analysis.Verdict `json:"verdictBefore"` // until then; "" = never asked
	Verdict       analysis.Verdict `json:"verdict"`       // now; "" = no ask counts
}

// importJSON is what an import did, or with --dry-run would do.
type importJSON struct {
	Schema        string         `json:"schema"`
	DryRun        bool           `json:"dryRun"`        // nothing was stored
	File          string         `json:"file"`          // as it was named
	Rows          int            `json:"rows"`          // rows of the file below its head
	Sessions      int            `json:"sessions"`      // sessions in them
	Trials        int            `json:"trials"`        // trials in them
	Stored        int            `json:"stored"`        // sessions that are new
	Amended       int            `json:"amended"`       // sessions that replace an earlier form
	SecondScoring int            `json:"secondScoring"` // sessions that score another a second time
	AlreadyStored int            `json:"alreadyStored"` // sessions that were there already
	LeftOut       []string       `json:"leftOut"`       // sessions left out because much like one that is there
	Rejected      int            `json:"rejected"`      // rows that could not be read
	Reasons       []rejectedJSON `json:"reasons"`       // of the first of them
	New           []nameJSON     `json:"new"`           // names added to the lists
}

// rejectedJSON is one row that could not be read.
type rejectedJSON struct {
	Line   int    `json:"line"`   // of the file, 1 = first
	Reason string `json:"reason"` // what is wrong, and what to type
}

// healthJSON is whether the store, or a copy of it, is sound.
type healthJSON struct {
	Schema    string   `json:"schema"`
	Path      string   `json:"path"`      // of the file looked at
	Sound     bool     `json:"sound"`     // nothing is wrong
	Size      int64    `json:"bytes"`     // of the file
	Version   int      `json:"version"`   // of the store's format
	Dogs      int      `json:"dogs"`      // dogs on the list
	Sessions  int      `json:"sessions"`  // sessions, withdrawn ones too
	Revisions int      `json:"revisions"` // forms of them
	Trials    int      `json:"trials"`    // trials of the forms in force
	Lost      int      `json:"lost"`      // forms that cannot be read or were altered
	Standing  int      `json:"standing"`  // sessions that are not withdrawn
	ToSettle  int      `json:"toSettle"`  // sessions that two stores say differently
	Problems  []string `json:"problems"`  // what is wrong, in words

	Altered      []alteredJSON     `json:"altered"`      // sessions that do not match their hash
	AlteredTexts []alteredTextJSON `json:"alteredTexts"` // kept notes and files that do not match their hash
}

// alteredJSON is a session whose words or trials do not match their hash.
type alteredJSON struct {
	ID    string  `json:"id"`    // of the session
	Dog   *string `json:"dog"`   // whose it is; null = the list of names is damaged too
	Start string  `json:"start"` // when it began; RFC 3339
}

// alteredTextJSON is a kept note or file that does not match its hash.
type alteredTextJSON struct {
	Batch    string        `json:"batch"`    // ID of what was stored at once
	Kind     string        `json:"kind"`     // log, import or amend
	At       string        `json:"at"`       // when it was stored; RFC 3339
	Name     *string       `json:"name"`     // of the file; null = it had none
	Sessions []alteredJSON `json:"sessions"` // sessions that came from it
	Trusted  bool          `json:"trusted"`  // what was read from it is intact all the same
}

// journalJSON is what was changed, newest first.
type journalJSON struct {
	Schema string      `json:"schema"`
	Events []eventJSON `json:"events"` // newest first
}

// eventJSON is one change.
type eventJSON struct {
	At     string  `json:"at"`     // when; RFC 3339
	Said   string  `json:"said"`   // what was changed, in words
	Writer string  `json:"writer"` // ID of the store it was changed in
	Batch  *string `json:"batch"`  // ID of what was stored at once, for firstcue undo; null = a change of the lists
}
