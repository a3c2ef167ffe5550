package analysis

import (
	"strconv"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// must is for calls whose arguments this package has made sure of.
func must[T any](v T, err error) T {
	if err != nil {
		panic("analysis: " + err.Error())
	}
	return v
}

func num(n stats.Number) training.Num {
	if !n.OK {
		return training.Num{}
	}
	return training.Known(n.V)
}

func parseNum(s string) (training.Num, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return training.Num{}, err
	}
	return training.Known(v), nil
}
