package stats

import (
	"math"
	"slices"
	"sync"
)

// maxSlopes bounds the pairs whose slopes are formed, about 10,000 observations.
const maxSlopes = 50_000_000

// TheilSenFit is the median of all pairwise slopes with Sen's limits.
type TheilSenFit struct {
	Slope             float64
	InterceptSeparate float64 // median(y) - Slope median(t)
	InterceptJoint    float64 // median(y - Slope t)
	NSlopes           int     // pairs with different times

	// Limits by rank: the slopes with 1-based ranks max(1, round((N-C)/2)) and
	// min(N, round((N+C)/2)+1), halves to even, C = z sqrt(Var S).
	LowerRank, UpperRank float64
	// Limits interpolated at positions (N-C)/2 and (N+C)/2+1 (Gilbert 1987),
	// kept within 1 and N.
	LowerInterp, UpperInterp float64
	// Clamped says that a rank fell outside 1..N, so that the level asked for
	// is not reached.
	Clamped bool
}

// TheilSen returns the median slope of y over t with Sen's confidence limits
// at the given level. t == nil means 1, 2, 3, ... At least two different times
// are needed. Use it for the size of a trend, never as its test.
//
// Sources: Theil 1950; Sen 1968, JASA 63:1379; Gilbert 1987, ch. 16-17.
func TheilSen(t, y []float64, level float64) (TheilSenFit, error) {
	const fn = "TheilSen"
	n := len(y)
	if n == 0 {
		return TheilSenFit{}, empty(fn, "y")
	}
	if t != nil && len(t) != n {
		return TheilSenFit{}, bad(fn, "t", "has %d values and y %d", len(t), n)
	}
	if err := checkFinite(fn, "t", t); err != nil {
		return TheilSenFit{}, err
	}
	if err := checkFinite(fn, "y", y); err != nil {
		return TheilSenFit{}, err
	}
	if err := checkLevel(fn, level); err != nil {
		return TheilSenFit{}, err
	}
	if pairs(n) > maxSlopes {
		return TheilSenFit{}, tooLarge(fn, "y", "has %d values: too many pairs", n)
	}
	v := sortedByTime(t, y)
	if t == nil {
		v.t = make([]float64, n)
		for i := range v.t {
			v.t[i] = float64(i + 1)
		}
	}
	buf := slopeBuffers.Get().(*slopeBuffer)
	defer slopeBuffers.Put(buf)
	slopes := buf.fill(v.t, v.y)
	nn := len(slopes)
	if nn == 0 {
		return TheilSenFit{}, bad(fn, "t", "needs two different times")
	}
	yGroups := runs(sorted(v.y))
	tGroups := runs(v.t)
	c := Z(level) * math.Sqrt(kendallVariance(n, tGroups, yGroups))
	f := TheilSenFit{NSlopes: nn}

	fn64 := float64(nn)
	loRank := math.RoundToEven((fn64 - c) / 2)
	hiRank := math.RoundToEven((fn64+c)/2) + 1
	f.Clamped = loRank < 1 || hiRank > fn64
	lo := clampInt(loRank, nn)
	hi := clampInt(hiRank, nn)
	loPos := math.Min(math.Max((fn64-c)/2, 1), fn64)
	hiPos := math.Min(math.Max((fn64+c)/2+1, 1), fn64)
	m1, m2 := (nn-1)/2+1, nn/2+1

	ranks := []int{lo, int(loPos), min(int(loPos)+1, nn), m1, m2, int(hiPos), min(int(hiPos)+1, nn), hi}
	got := make([]float64, len(ranks))
	buf.orderStatistics(slopes, ranks, got)
	f.LowerRank, f.UpperRank = got[0], got[7]
	f.LowerInterp = interpolate(got[1], got[2], loPos)
	f.UpperInterp = interpolate(got[5], got[6], hiPos)
	f.Slope = mean2(got[3], got[4])

	f.InterceptSeparate = median(slices.Clone(v.y)) - f.Slope*median(slices.Clone(v.t))
	res := make([]float64, n)
	for i := range res {
		res[i] = v.y[i] - f.Slope*v.t[i]
	}
	f.InterceptJoint = median(res)
	for _, x := range []float64{f.Slope, f.InterceptSeparate, f.InterceptJoint, f.LowerRank, f.UpperRank, f.LowerInterp, f.UpperInterp} {
		if !finite(x) {
			return TheilSenFit{}, tooLarge(fn, "t", "has steps too small for the values: a slope overflows")
		}
	}
	return f, nil
}

func interpolate(a, b, pos float64) float64 {
	w := pos - math.Floor(pos)
	if w == 0 || a == b {
		return a
	}
	return a + w*(b-a)
}

func clampInt(r float64, n int) int {
	return int(math.Min(math.Max(r, 1), float64(n)))
}

func mean2(a, b float64) float64 {
	if a == b {
		return a
	}
	return a + (b-a)/2
}

func sorted(v []float64) []float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s
}

// median sorts v and returns its middle; v is not empty.
func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return mean2(v[n/2-1], v[n/2])
}

type slopeBuffer struct {
	slopes []float64
	bins   []uint16
	count  []int32
	slot   []int8
	picked []float64
}

var slopeBuffers = sync.Pool{New: func() any { return new(slopeBuffer) }}

// fill forms the slopes of all pairs with different times; t ascends.
func (b *slopeBuffer) fill(t, y []float64) []float64 {
	n := len(t)
	need := int(pairs(n))
	if cap(b.slopes) < need {
		b.slopes = make([]float64, need)
	}
	out := b.slopes[:need]
	k := 0
	for i := range n - 1 {
		ti, yi := t[i], y[i]
		tj := t[i+1:]
		yj := y[i+1:][:len(tj)]
		if len(tj) > 0 && tj[0] != ti { // times ascend: all later ones differ
			dst := out[k:][:len(tj)]
			for j, tt := range tj {
				dst[j] = (yj[j] - yi) / (tt - ti)
			}
			k += len(tj)
			continue
		}
		for j, tt := range tj {
			if tt != ti {
				out[k] = (yj[j] - yi) / (tt - ti)
				k++
			}
		}
	}
	return out[:k]
}

const slopeBins = 4096

// orderStatistics writes to got the values with the given 1-based ranks. A
// sample shows where they lie; one pass counts the values per bin around
// there, and only the bins that hold a wanted rank are sorted. The answer does
// not depend on the sample, only the time does.
func (b *slopeBuffer) orderStatistics(v []float64, ranks []int, got []float64) {
	n := len(v)
	if n <= 4096 {
		slices.Sort(v)
		for i, r := range ranks {
			got[i] = v[r-1]
		}
		return
	}
	const sampleSize = 512
	sample := make([]float64, sampleSize)
	for i := range sample {
		sample[i] = v[int(int64(i)*int64(n)/sampleSize)]
	}
	slices.Sort(sample)
	at := func(rank, shift int) float64 {
		i := int(int64(rank)*sampleSize/int64(n)) + shift
		return sample[min(max(i, 0), sampleSize-1)]
	}
	const margin = 80 // about 3.5 standard errors of a sample rank
	lo, hi := at(slices.Min(ranks), -margin), at(slices.Max(ranks), margin)
	scale := (slopeBins - 2) / (hi - lo)
	if !(hi > lo) || !finite(scale) {
		lo, scale = sample[0], 0
	}
	if cap(b.bins) < n {
		b.bins = make([]uint16, n)
	}
	bins := b.bins[:n]
	if b.count == nil {
		b.count = make([]int32, slopeBins)
		b.slot = make([]int8, slopeBins)
	}
	count := b.count
	clear(count)
	for i, x := range v {
		// Bins ascend with x: 0 below lo, slopeBins-1 above hi. The rounding is
		// the same for every x, so equal values share a bin.
		f := (x-lo)*scale + 1
		k := int(min(max(f, 0), slopeBins-1))
		bins[i] = uint16(k)
		count[k]++
	}
	// start[i] is the number of values in bins below the one of ranks[i], and
	// slot says which list of picked values a bin has.
	start, list := make([]int, len(ranks)), make([]int, len(ranks))
	order := make([]int, len(ranks))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return ranks[a] - ranks[b] })
	slot := b.slot
	for i := range slot {
		slot[i] = -1
	}
	var picked [][]float64
	below, k, total := 0, 0, 0
	for _, i := range order {
		for below+int(count[k]) < ranks[i] {
			below += int(count[k])
			k++
		}
		if slot[k] < 0 {
			slot[k] = int8(len(picked))
			picked = append(picked, nil)
			total += int(count[k])
		}
		start[i], list[i] = below, int(slot[k])
	}
	if cap(b.picked) < total {
		b.picked = make([]float64, total)
	}
	free := b.picked[:total]
	for k, s := range slot {
		if s >= 0 {
			picked[s], free = free[:0:count[k]], free[count[k]:]
		}
	}
	for i, k := range bins {
		if s := slot[k]; s >= 0 {
			picked[s] = append(picked[s], v[i])
		}
	}
	for _, p := range picked {
		if slices.ContainsFunc(p, func(x float64) bool { return x != p[0] }) {
			slices.Sort(p)
		}
	}
	for i := range ranks {
		got[i] = picked[list[i]][ranks[i]-start[i]-1]
	}
}
