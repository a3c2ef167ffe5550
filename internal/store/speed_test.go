package store

import (
	"strings"
	"testing"
)

// A row must not cost a table in memory, which SQLite makes for a CHECK with a
// list of more than two values.
func TestInsertMakesNoTable(t *testing.T) {
	s := open(t, "laptop")
	for table, columns := range map[string]string{
		"entry":    "seq, feed, place, kind, key, batch, id, body",
		"revision": "n, id, session, number, writer, at_ms, voided, parents, batch, content, dog, start_ms, part, rescores, trials",
	} {
		rows, err := s.conn.QueryContext(ctx, "EXPLAIN INSERT INTO "+table+" ("+columns+") VALUES (1"+strings.Repeat(",1", strings.Count(columns, ","))+")")
		if err != nil {
			t.Fatal(err)
		}
		for n := 0; ; n++ {
			if !rows.Next() {
				if n < 10 {
					t.Errorf("%s: the plan has %d steps", table, n)
				}
				break
			}
			var address, p1, p2, p3, p5 int
			var step string
			var p4, comment any
			if err := rows.Scan(&address, &step, &p1, &p2, &p3, &p4, &p5, &comment); err != nil {
				t.Fatal(err)
			}
			if step == "OpenEphemeral" {
				t.Errorf("%s: inserting a row fills a table in memory", table)
			}
		}
		rows.Close()
	}
}
