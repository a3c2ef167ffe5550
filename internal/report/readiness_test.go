package report

import (
	"bytes"
	"testing"
)

func TestText(t *testing.T) {
	var b bytes.Buffer
	if err := Text(&b, juniper(), Options{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "report.txt", b.Bytes())
	b.Reset()
	if err := JSON(&b, juniper(), Options{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "report.json", b.Bytes())
}
