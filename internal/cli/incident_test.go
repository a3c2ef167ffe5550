package cli

import (
	"encoding/json"
	"strings"
	"testing"
)

// TestIncidentsJSONSaysWhatWasDropped: an incident whose session was withdrawn
// stays open, in the list as in the JSON.
func TestIncidentsJSONSaysWhatWasDropped(t *testing.T) {
	s := logged(t)
	for _, c := range []string{
		"firstcue log --dog Tarn --handler Ailsa --place paddock --leash off --distraction 1 --start '2026-03-20 11:10' --text 'sit 3+\n! growled'",
		"firstcue incident add Tarn 'snapped at the gate' --day 2026-03-19",
		"firstcue session void last --why 'another dog'",
	} {
		if out := s.run(c, nil); strings.Contains(out, "[exit") {
			t.Fatalf("%s: %s", c, out)
		}
	}
	var got struct {
		Incidents []struct {
			Text    string
			Dropped *bool
		}
	}
	if err := json.Unmarshal([]byte(s.answer("firstcue incident list --format json")), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Incidents) != 2 {
		t.Fatalf("%+v", got)
	}
	for _, i := range got.Incidents {
		if i.Dropped == nil || *i.Dropped != (i.Text == "growled") {
			t.Errorf("%s: dropped %v", i.Text, i.Dropped)
		}
	}
}
