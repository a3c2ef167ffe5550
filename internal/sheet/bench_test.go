package sheet

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"

	"firstcue/internal/training"
)

// BenchmarkRead reads a made-up sheet of 100,000 trials, 20 to a session, with
// latencies in tenths of a second. Figures and method: docs/import.md.
func BenchmarkRead(b *testing.B) {
	const trials = 100_000
	rnd := rand.New(rand.NewPCG(1, 2))
	var text bytes.Buffer
	text.WriteString("dog,start,handler,place,leash,distraction,device,cue,response,asks,latency,level\r\n")
	k := kennel()
	k.Dogs = nil
	for i := range trials {
		dog := fmt.Sprintf("Dog%05d", i/400)
		if i%400 == 0 {
			k.Dogs = append(k.Dogs, training.Dog{Name: dog})
		}
		row := []string{"+,,1.%d,", "-,,,", "yes,2,,%d"}[rnd.IntN(3)]
		if n := rnd.IntN(9); row != "-,,," {
			row = fmt.Sprintf(row, n+1)
		}
		fmt.Fprintf(&text, "%s,2025-%02d-%02dT09:%02d:00+01:00,Ailsa,paddock,off,%d,blue remote,%s,%s\r\n", dog, 1+i/20%12, 1+i/240%28, i/20%60, i/20%5, []string{"sit", "down", "come"}[rnd.IntN(3)], row)
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		r, l, err := Open(bytes.NewReader(text.Bytes()), Wishes{})
		if err != nil {
			b.Fatal(err)
		}
		cols, err := Mapping{}.Find(l.Header)
		if err != nil {
			b.Fatal(err)
		}
		l.Dates, l.Decimal = YMD, '.'
		res, err := Read(r, Options{Layout: l, Columns: cols, Kennel: k, Now: now}, func(training.Session) error { return nil },
			func(x Rejected) error { return fmt.Errorf("line %d: %s", x.Line, x.Reason) })
		if err != nil || res.Trials != trials {
			b.Fatal(err, res)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/trials, "ns/trial")
}
