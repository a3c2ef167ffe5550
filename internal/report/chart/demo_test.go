package chart

import (
	"bytes"
	"fmt"
	"os"
	"testing"
)

// TestLook writes the examples into the directory CHARTS, to look at.
func TestLook(t *testing.T) {
	dir := os.Getenv("CHARTS")
	if dir == "" {
		t.Skip("CHARTS is not set")
	}
	write := func(name string, b []byte) {
		if err := os.WriteFile(dir+"/"+name, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, of := range examples {
		for _, w := range []int{40, 80, 200} {
			write(fmt.Sprintf("%s-%d.txt", name, w), []byte(Text(of(), w, false)))
		}
		write(name+"-ascii.txt", []byte(Text(of(), 80, true)))
		write(name+"-phone.svg", []byte(SVG(of(), Phone)))
		write(name+"-page.svg", []byte(SVG(of(), Page)))
		var b bytes.Buffer
		if err := PNG(&b, of(), Page); err != nil {
			t.Fatal(err)
		}
		write(name+".png", b.Bytes())
	}
	var b bytes.Buffer
	if err := CardPNG(&b, card(), func(n int) string { return fmt.Sprint("and ", n, " more") }); err != nil {
		t.Fatal(err)
	}
	write("card.png", b.Bytes())
}
