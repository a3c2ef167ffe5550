package cli

import (
	"strings"
	"testing"
)

// TestNightlyOfAHoldAndOfADogAtHome: what the notes say reaches the evening's
// report in every format.
func TestNightlyOfAHoldAndOfADogAtHome(t *testing.T) {
	s := newScript(t)
	log := "firstcue log --new --handler Ailsa --place paddock --leash off --distraction 1 "
	for _, c := range []string{
		"firstcue dog add Tarn --arrived 2026-03-02",
		"firstcue dog add Sorrel --arrived 2026-03-02",
		"firstcue dog home Sorrel --day 2026-03-18",
		"firstcue incident add Sorrel 'bit the postman' --day 2026-03-19",
		log + "--dog Tarn --start '2026-03-19 09:10' --text 'sit 3+'",
		"firstcue dog hold Tarn --from 2026-03-20 --reason 'sore hip'",
		log + "--in-hold --dog Tarn --start '2026-03-20 09:10' --text 'sit 3+'",
		log + "--in-hold --dog Tarn --start '2026-03-20 10:10' --text 'sit 2+'",
	} {
		if out := s.run(c, nil); strings.Contains(out, "[exit") {
			t.Fatalf("%s: %s", c, out)
		}
	}
	for format, want := range map[string][]string{
		"text": {"On vet hold, and 5 trials in 2 sessions logged today all the same.", "Sorrel Went home on Wed 18 March with an open incident, 19 March: bit the postman."},
		"json": {"On vet hold, and 5 trials in 2 sessions logged today all the same.", "Went home on Wed 18 March with an open incident, 19 March: bit the postman."},
		"csv":  {"\"logged in hold, vet hold\"", "2026-03-20,Sorrel,,,,,,,,,,,,,,,,,2026-03-18,incident,"},
	} {
		out := strings.Join(strings.Fields(s.run("firstcue nightly --day 2026-03-20 --format "+format, nil)), " ")
		for _, w := range want {
			if !strings.Contains(out, w) {
				t.Errorf("%s: no %q in %s", format, w, out)
			}
		}
	}
}
