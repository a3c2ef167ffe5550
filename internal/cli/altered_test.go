package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// A byte of a kept note, and one of a session, altered on the disk while the
// database stays sound: check names them, in words and in JSON.
func TestCheckNamesWhatWasAltered(t *testing.T) {
	schema := published(t, "../../docs/schemas/check.json", true)
	s := newScript(t)
	s.must("firstcue --store k.db dog add Tarn --arrived 2026-03-02")
	const head = "dog: Tarn; handler: Ailsa; place: paddock; leash: off; distraction: 1\n"
	write(t, filepath.Join(s.dir, "morning.txt"), []byte("# written in the morning\n"+head+"start: 2026-03-20 09:10\nsit 3+\nstart: 2026-03-20 11:10\nsit 2+\n"))
	write(t, filepath.Join(s.dir, "evening.txt"), []byte(head+"start: 2026-03-20 17:10\nsit 4+\n> calm evening\n"))
	s.must("firstcue --store k.db log -q --new morning.txt")
	s.must("firstcue --store k.db log -q --new evening.txt")
	s.must("firstcue --store k.db store backup good.db")
	db := filepath.Join(s.dir, "k.db")
	alter := func(old, new string) {
		t.Helper()
		b, err := os.ReadFile(db)
		if err != nil || !bytes.Contains(b, []byte(old)) {
			t.Fatalf("%q is not in the store: %v", old, err)
		}
		write(t, db, bytes.ReplaceAll(b, []byte(old), []byte(new)))
	}
	// As a whole the note stands in the kept file only; the lines of a session are
	// kept with it too.
	whole, err := os.ReadFile(filepath.Join(s.dir, "morning.txt"))
	if err != nil {
		t.Fatal(err)
	}
	kept := strings.ReplaceAll(string(whole), "\n", `\n`) // as it stands in the JSON document
	alter(kept, strings.Replace(kept, "written", "wrItten", 1))
	expect := func(command, want string) {
		t.Helper()
		if got := s.run(command, nil); got != want {
			t.Errorf("$ %s\n%s\nwant\n%s", command, got, want)
		}
	}
	id := handleOf(t, s, "Tarn --store k.db", "2026-03-20T09:10", "")
	second := handleOf(t, s, "Tarn --store k.db", "2026-03-20T11:10", "")
	other := handleOf(t, s, "Tarn --store k.db", "2026-03-20T17:10", "")
	damaged := `firstcue: the store is damaged
  firstcue --store k.db store check --salvage NEW.db saves what is whole,
  firstcue --store NEW.db store merge COPY brings the rest back from a backup or another laptop, and
  firstcue --store k.db store restore NEW.db --confirm puts it in the store's place (the damaged file is kept)
  or put a backup in its place as it is: firstcue --store k.db store restore COPY
[exit 1]
`
	expect("firstcue --store k.db store check", `k.db: DAMAGED; what could be read of it:
1 dog; in force: 9 trials in 3 sessions; kept: 3 revisions
  1 text kept as it came in can't be read or was altered
  altered: the text of morning.txt as it came in, logged 2026-03-20 18:00; what was stored of it is as it was: Tarn 2026-03-20 09:10 (session `+id+`), Tarn 2026-03-20 11:10 (session `+second+`)
`+damaged)
	// A copy of it is kept and pushes no good one out; to others nothing is handed on.
	if err := os.Mkdir(filepath.Join(s.dir, "copies"), 0o700); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(s.dir, "copies", "k-20260319T180000.db"), []byte("an older one"))
	expect("firstcue --store k.db store backup copies --keep 1", `~/copies/k-20260320T180000.damaged.db
firstcue: ~/k.db: the store is damaged; what can be copied of it is in ~/copies/k-20260320T180000.damaged.db; no older copy was removed
  what is damaged: firstcue --store k.db store check
  put the last good copy in its place: firstcue --store k.db store restore COPY
[exit 1]
`)
	expect("firstcue --store k.db store bundle -o k.jsonl", `firstcue: ~/k.db: the store is damaged, so nothing of it was handed on
  what is damaged: firstcue --store k.db store check
  save what is whole: firstcue --store k.db store check --salvage NEW.db, then
  firstcue --store NEW.db store bundle
[exit 1]
`)
	expect("ls k.jsonl", "k.jsonl: not there\n")
	expect("firstcue --store k.db session show "+id+" --file", `firstcue: the file of session `+id+` was altered in the store, so it is not shown
  the session's own lines: firstcue session show `+id+` --format note
  what is altered, and what to do: firstcue store check
[exit 1]
`)
	expect("firstcue --store k.db session show "+other+" --file > other.txt", "")
	expect("firstcue --store k.db store check --salvage saved.db > checked.txt", `saved into saved.db: 9 trials in 3 sessions
  left out, altered: the text of morning.txt as it came in, logged 2026-03-20 18:00; what was stored of it is as it was: Tarn 2026-03-20 09:10 (session `+id+`), Tarn 2026-03-20 11:10 (session `+second+`)
bring back what is missing from a backup or another laptop's store: firstcue --store saved.db store merge COPY
then put it in the store's place: firstcue --store k.db store restore saved.db --confirm (the damaged file is kept)
`)
	s.must("firstcue --store saved.db store merge good.db")
	if got := s.raw("firstcue --store saved.db session show " + id + " --file"); got != string(whole) {
		t.Errorf("brought back: %s", got)
	}
	alter("> calm evening", "> calM evening")
	text := s.answer("firstcue --store k.db store check --format json")
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(doc); err != nil {
		t.Error(err)
	}
	for _, want := range []string{`"dog": "Tarn"`, `"start": "2026-03-20T17:10:00Z"`, `"trusted": false`, `"trusted": true`, `"name": "evening.txt"`, `"name": "morning.txt"`, `"kind": "log"`} {
		if !strings.Contains(text, want) {
			t.Errorf("no %s in\n%s", want, text)
		}
	}
}
