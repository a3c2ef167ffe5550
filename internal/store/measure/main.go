//go:build unix

// Command measure runs two or more commands in turn, round after round, and
// prints the median of what each took and the median ratio of the first to each
// other. On a machine that others use too, a ratio within one round says more
// than two figures taken minutes apart.
//
//	measure [-rounds N] [-bar R] [-prepare COMMAND] NAME COMMAND NAME COMMAND ...
//
// A COMMAND is cut at blanks and run without a shell, so that no shell is
// measured; "<FILE" in it is the command's input, "{n}" the number of the run,
// "~" a blank inside a word.
// Its output goes nowhere. -prepare is run by sh before each run, not measured.
package main

import (
	"flag"
	"fmt"
	"log"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// took is what one run of a command took.
type took struct {
	wall, cpu time.Duration
	memory    int64 // bytes, the most at any time
}

func main() {
	log.SetFlags(0)
	log.SetPrefix("measure: ")
	rounds := flag.Int("rounds", 5, "`number` of rounds; one more is run first and not counted")
	bar := flag.Float64("bar", 0, "the `ratio` that the first command should not exceed; 0 = none")
	prepare := flag.String("prepare", "", "`command` for sh before each run; {n} is the number of the run, {c} that of the command, 1 = the first")
	flag.Parse()
	if flag.NArg() < 2 || flag.NArg()%2 != 0 || *rounds < 1 {
		log.Fatal("usage: measure [-rounds N] [-bar R] [-prepare COMMAND] NAME COMMAND ...")
	}
	var names, commands []string
	for i, a := range flag.Args() {
		if i%2 == 0 {
			names = append(names, a)
		} else {
			commands = append(commands, a)
		}
	}
	runs := make([][]took, len(commands))
	n := os.Getpid() * 1000 // other runs of this program count from elsewhere
	for round := 0; round <= *rounds; round++ {
		for j := range commands {
			// Every other round backwards: what runs second has no lasting advantage.
			c := j
			if round%2 == 1 {
				c = len(commands) - 1 - j
			}
			n++
			fill := strings.NewReplacer("{n}", strconv.Itoa(n), "{c}", strconv.Itoa(c+1)).Replace
			if *prepare != "" {
				if out, err := exec.Command("sh", "-c", fill(*prepare)).CombinedOutput(); err != nil {
					log.Fatalf("%s: %v\n%s", *prepare, err, out)
				}
			}
			t, err := run(fill(commands[c]))
			if err != nil {
				log.Fatalf("%s: %v", commands[c], err)
			}
			if round > 0 {
				runs[c] = append(runs[c], t)
			}
		}
	}
	fmt.Printf("  %-30s %10s %10s %8s   ratio to the first, by wall and by processor\n", "", "wall", "processor", "memory")
	for c, r := range runs {
		wall := func(t took) float64 { return t.wall.Seconds() }
		cpu := func(t took) float64 { return t.cpu.Seconds() }
		line := fmt.Sprintf("  %-30s %8.1fms %8.1fms %6dMB", names[c], 1e3*median(r, wall), 1e3*median(r, cpu), int64(median(r, func(t took) float64 { return float64(t.memory) }))>>20)
		if c > 0 {
			byWall, byCPU := ratio(runs[0], r, wall), ratio(runs[0], r, cpu)
			line += fmt.Sprintf("   %6.3f %6.3f", byWall, byCPU)
			if *bar > 0 {
				line += fmt.Sprintf("  bar %g: %s", *bar, verdict(byWall, byCPU, *bar))
			}
		}
		fmt.Println(line)
	}
}

// verdict compares a ratio with its bar; wall and processor are both said when
// they disagree.
func verdict(wall, cpu, bar float64) string {
	switch {
	case wall <= bar && cpu <= bar:
		return "met"
	case wall <= bar:
		return "met by wall, not by processor"
	case cpu <= bar:
		return "met by processor, not by wall"
	}
	return "NOT met"
}

func median(r []took, of func(took) float64) float64 {
	var v []float64
	for _, t := range r {
		v = append(v, of(t))
	}
	return middle(v)
}

// ratio is the median over rounds of the first command's figure by another's.
func ratio(first, other []took, of func(took) float64) float64 {
	var v []float64
	for i := range first {
		v = append(v, of(first[i])/of(other[i]))
	}
	return middle(v)
}

func middle(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

func run(command string) (took, error) {
	var args []string
	var input *os.File
	for _, f := range strings.Fields(command) {
		f = strings.ReplaceAll(f, "~", " ")
		if name, ok := strings.CutPrefix(f, "<"); ok {
			var err error
			if input, err = os.Open(name); err != nil {
				return took{}, err
			}
			defer input.Close()
			continue
		}
		args = append(args, f)
	}
	cmd := exec.Command(args[0], args[1:]...)
	if input != nil {
		cmd.Stdin = input
	}
	var trouble strings.Builder
	cmd.Stderr = &trouble
	began := time.Now()
	err := cmd.Run()
	t := took{wall: time.Since(began)}
	if err != nil {
		return t, fmt.Errorf("%w\n%s", err, trouble.String())
	}
	t.cpu = cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	t.memory = cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss << 10 // kilobytes on Linux
	return t, nil
}
