package stats

import "encoding/json"

// Number is a figure that may be absent: a median that was not reached, an
// intraclass correlation of a single session. The zero Number is absent.
// In JSON an absent one is null.
type Number struct {
	V  float64 // the figure, finite; 0 when absent
	OK bool    // whether there is a figure
}

// Some is a Number that is present.
func Some(v float64) Number { return Number{V: v, OK: true} }

// MarshalJSON writes the figure, or null where there is none.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.OK {
		return []byte("null"), nil
	}
	return json.Marshal(n.V)
}

// Interval is a lower and an upper limit.
type Interval struct {
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
}
