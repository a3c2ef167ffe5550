package report

import (
	"bytes"
	"testing"
)

func TestPacket(t *testing.T) {
	a := juniper()
	r := juniperRecord()
	a.Dog = r.Dog
	var b bytes.Buffer
	if err := Packet(&b, a, r, PacketOptions{Kennel: "Ferry Lane Kennel", Contact: "Maren, 555 0134"}); err != nil {
		t.Fatal(err)
	}
	golden(t, "packet.html", b.Bytes())
	b.Reset()
	if err := HTML(&b, a, Options{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "report.html", b.Bytes())
}
