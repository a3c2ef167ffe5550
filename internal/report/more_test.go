package report

import (
	"bytes"
	"testing"
)

func TestMore(t *testing.T) {
	a, r := juniper(), juniperRecord()
	var b bytes.Buffer
	DryRunText(&b, r.Sessions, Options{})
	b.WriteString("==========\n")
	SessionText(&b, r.Sessions[0], Options{})
	b.WriteString("==========\n")
	SessionsTable(&b, r.Sessions, Options{})
	b.WriteString("==========\n")
	Brief(&b, a, r, Options{})
	b.WriteString("==========\n")
	NightlyText(&b, MakeNightly(day(20), nil, nil), Options{})
	t.Log(b.String())
}
