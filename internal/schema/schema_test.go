package schema

import (
	"strings"
	"testing"
)

type answer struct {
	Name string `json:"name"` // of the dog
	Bare *int   `json:"bare"`
}

// TestPropertyWithoutDescription: a field that nobody described is named.
func TestPropertyWithoutDescription(t *testing.T) {
	m := Maker{Sources: &Sources{Root: "../..", Module: "firstcue"}}
	// The comments of test files are not read: both lack one, and name is a word.
	_, err := m.Make(Answer{Name: "x", Title: "X", Command: "x", Forms: []any{answer{}}})
	if err == nil || !strings.Contains(err.Error(), "answer.Bare") || strings.Contains(err.Error(), "answer.Name") {
		t.Errorf("%v", err)
	}
}
