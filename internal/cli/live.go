package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"firstcue/internal/live"
	"firstcue/internal/training"
)

const liveLong = `Writes a session down while it happens: one key for each event, the clock is taken
for you. The keys that mean something now stand on the screen; they are letters and
digits, so a phone's keyboard over SSH will do. 40 columns and 12 rows are enough.

  1 2 3 ...  this cue is given now; again before an answer: asked again
  y n w      yes; no (a stay or walk: broke); wrong, did something else
  s          began to answer (then y when it is done)
  r          released: the stay or walk ends. Another cue given before asks how the
             stay ended (r, or q not seen) and is noted at the moment of its key
  g          gave up: closes the trial
  c          correction: then l leash, v verbal, or the level and Enter
  h          help given        a  was in position already     q  not seen
  e          acted early: then the cue's number
  t i        a remark; an incident or a sign of fear, pain or aggression
  o          change handler, place, leash, distraction or collar from here on
  u          undo the last key        p  pause: the clock stands still
  f          finish: then f again logs it

Each key is on the disk before the next one is read. A session that was cut off goes on
with firstcue live --resume, or is logged as it stands with --resume --finish. The note
is an ordinary timed note; where it is kept is shown.`

type liveOptions struct {
	handler, scorer, place, leash, distraction, device string
	weather, reward                                    string
	resume, finish, inHold                             bool
}

func newLiveCommand(a *app) *cobra.Command {
	var o liveOptions
	cmd := &cobra.Command{
		Use:   "live DOG",
		Short: "Write a session down while it happens, one key an event",
		Long:  liveLong,
		Example: `  firstcue live Tarn
  firstcue live Tarn --handler Ailsa --place paddock --leash off --distraction 2
  firstcue live --resume`,
		Args: func(cmd *cobra.Command, args []string) error {
			if o.resume {
				return takes(0, 1, "the dog's name")(cmd, args)
			}
			return takes(1, 1, "the dog's name")(cmd, args)
		},
		ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			dog := ""
			if len(args) > 0 {
				dog = args[0]
			}
			if o.finish && !o.resume {
				return usagef("--finish logs a session that was cut off; it goes with --resume")
			}
			if o.resume {
				return a.resumeLive(cmd.Context(), dog, o)
			}
			return a.startLive(cmd.Context(), dog, o)
		},
	}
	fs := cmd.Flags()
	fs.StringVar(&o.handler, "handler", "", "who gives the cues, a `NAME` (asked if not given)")
	fs.StringVar(&o.place, "place", "", "`PLACE` (asked if not given)")
	fs.StringVar(&o.leash, "leash", "", "`STATE`: leash, long line, drag line, off (asked if not given)")
	fs.StringVar(&o.distraction, "distraction", "",
		"`CODE` 0 (familiar, quiet) to 4 (this dog's hardest thing; asked if not given)")
	fs.StringVar(&o.scorer, "scorer", "", "who writes it down, a `NAME`, if not the handler")
	fs.StringVar(&o.device, "device", "", "`DEVICE` the levels belong to (default: the dog's usual one)")
	fs.StringVar(&o.weather, "weather", "", "weather, in `WORDS`")
	fs.StringVar(&o.reward, "reward", "", "reward, in `WORDS`")
	fs.BoolVar(&o.resume, "resume", false, "go on with a session that was cut off")
	fs.BoolVar(&o.finish, "finish", false, "with --resume: log it as it stands, without the screen")
	fs.BoolVar(&o.inHold, "in-hold", false,
		"the trials in a vet hold are meant; they are left out of every figure")
	complete(cmd, "handler", a.completeHandlers)
	complete(cmd, "scorer", a.completeHandlers)
	complete(cmd, "place", a.completePlaces)
	complete(cmd, "device", a.completeDevices)
	return cmd
}

// liveDir is where notes of live sessions are kept until they are logged:
// $XDG_STATE_HOME, or the system's usual folder for such things.
func (a *app) liveDir() (string, error) {
	if d := a.env.Getenv("XDG_STATE_HOME"); filepath.IsAbs(d) {
		return filepath.Join(d, "firstcue", "live"), nil
	}
	if home := a.env.Getenv("HOME"); home != "" && runtime.GOOS != "windows" && runtime.GOOS != "darwin" {
		return filepath.Join(home, ".local", "state", "firstcue", "live"), nil
	}
	data, err := dataDir(runtime.GOOS, a.env.Getenv)
	if err != nil {
		return "", usagef("the home folder is not known, so there is nowhere to keep the note").try("set XDG_STATE_HOME to a folder")
	}
	return filepath.Join(data, "firstcue", "live"), nil
}

func (a *app) startLive(ctx context.Context, name string, o liveOptions) error {
	if err := a.mayBegin(false); err != nil {
		return err
	}
	k, set, err := a.kennel(ctx)
	if err != nil {
		return err
	}
	dog, err := pick(k.Dogs, "dog", name)
	if err != nil {
		return err
	}
	k = withTargets(k, set, dog.Name)
	if err := a.needTerminal("firstcue log --dog " + quote(dog.Name) +
		" --start 'today 9:10' NOTE stores a note written elsewhere"); err != nil {
		return err
	}
	given, err := o.context(k, dog)
	if err != nil {
		return err
	}
	now := a.env.Now()
	for _, h := range dog.Holds {
		if h.Covers(training.DayOf(now), "") && !o.inHold {
			return usagef("%s is on vet hold: %s", dog.Name,
				h.Reason).try("the vet decides; firstcue dog hold ends a hold. --in-hold keeps the trials and leaves them out of every figure")
		}
	}
	dir, left, err := a.unlogged()
	if err != nil {
		return err
	}
	for _, l := range left {
		if training.Key(l.Dog) == training.Key(dog.Name) {
			return usagef("a session of %s is not logged yet: %s, %s", l.Dog, l.Start, plural(l.Cues,
				"cue")+" given").
				try("firstcue live --resume %s goes on with it, --resume --finish logs it\nits note: %s",
					quote(l.Dog), l.Path)
		}
	}
	zone := ""
	if n := now.Location().String(); n != "Local" && n != "" {
		if _, err := time.LoadLocation(n); err == nil && strings.Contains(n, "/") {
			zone = n
		}
	}
	m := live.New(live.Options{Kennel: k, Dog: dog.Name, Context: given, Start: now, Zone: zone,
		InHold: o.inHold, Ask: []string{"handler", "place", "leash", "distraction"}})
	return a.runLive(ctx, m, nil, dir, o)
}

// context is what the flags say of the session, in the kennel's names.
func (o liveOptions) context(k training.Kennel, dog training.Dog) (given map[string]string, err error) {
	given = map[string]string{"leash": o.leash, "distraction": o.distraction, "weather": o.weather,
		"reward": o.reward}
	for key, v := range given {
		if strings.ContainsAny(v, ";#\r\n") {
			return nil, usagef("--%s %q holds a sign that a note can't", key, v)
		}
	}
	for _, x := range []struct {
		key, value string
		find       func(string) (string, error)
	}{
		{"handler", o.handler, func(s string) (string, error) {
			h, err := pick(k.Handlers, "handler",
				s)
			return h.Name, err
		}},
		{"scorer", o.scorer, func(s string) (string, error) {
			h, err := pick(k.Handlers, "handler",
				s)
			return h.Name, err
		}},
		{"place", o.place, func(s string) (string, error) {
			p, err := pick(k.Places, "place",
				s)
			return p.Name, err
		}},
		{"device", o.device, func(s string) (string, error) {
			d, err := pick(k.Devices, "device",
				s)
			return d.Name, err
		}},
	} {
		if x.value == "" {
			continue
		}
		if given[x.key], err = x.find(x.value); err != nil {
			return nil, err
		}
	}
	if o.leash != "" && !slices.Contains(training.Leashes, training.Leash(o.leash)) {
		return nil, usagef("--leash is leash, long line, drag line or off, not %q", o.leash)
	}
	if d := o.distraction; d != "" && (len(d) != 1 || d[0] < '0' || d[0] > '4') {
		return nil, usagef("--distraction is 0 (familiar, quiet) to 4 (this dog's hardest thing), not %q", d)
	}
	switch {
	case dog.RewardOnly && given["device"] != "":
		return nil, usagef("%s is trained without a collar: --device has no use", dog.Name)
	case !dog.RewardOnly && given["device"] == "":
		if d, ok := k.Device(dog.Device); ok {
			given["device"] = d.Name
		}
	}
	for _, x := range []struct {
		key   string
		empty bool
	}{{"handler", len(k.Handlers) == 0}, {"place", len(k.Places) == 0}} {
		if given[x.key] == "" && x.empty {
			return nil, usagef("there is no %s yet", x.key).try("firstcue %s add NAME", x.key)
		}
	}
	return given, nil
}

// withTargets returns the kennel with the targets of its holds that are in force
// for a dog: the note says with each hold how long it was to be kept.
func withTargets(k training.Kennel, set []training.Setting, dog string) training.Kennel {
	bars := criteriaFor(k, set, dog)
	cues := slices.Clone(k.Cues)
	for i, c := range cues {
		if c.Kind == training.Holding {
			cues[i].Target = bars(c.Name).Target
		}
	}
	k.Cues = cues
	return k
}

func (a *app) needTerminal(instead string) error {
	if _, ok := a.env.Stdin.(*os.File); ok && a.env.Terminal {
		return nil
	}
	return usagef("live needs a terminal: it reads single keys").try("%s", instead)
}

// unlogged returns the folder of live sessions and what is in it: those that
// were cut off.
func (a *app) unlogged() (dir string, left []live.Unlogged, err error) {
	if dir, err = a.liveDir(); err != nil {
		return "", nil, err
	}
	if left, err = live.Unfinished(dir); err != nil {
		return "", nil, failedf(err, "look for sessions cut off: %v", err)
	}
	return dir, left, nil
}

func (a *app) resumeLive(ctx context.Context, name string, o liveOptions) error {
	if err := a.mayBegin(false); err != nil {
		return err
	}
	k, set, err := a.kennel(ctx)
	if err != nil {
		return err
	}
	dir, left, err := a.unlogged()
	if err != nil {
		return err
	}
	var fit []live.Unlogged
	for _, l := range left {
		if name == "" || training.Key(l.Dog) == training.Key(name) {
			fit = append(fit, l)
		}
	}
	switch {
	case len(fit) == 0 && name != "" && len(left) > 0:
		return usagef("no session of %s was cut off; there is one of %s", name, left[len(left)-1].Dog)
	case len(fit) == 0:
		return usagef("no session was cut off: there is nothing to go on with").try("firstcue live DOG begins one")
	case len(fit) > 1 && name == "":
		var list []string
		for _, l := range fit {
			list = append(list, fmt.Sprintf("%s, %s, %s: firstcue live --resume %s", l.Dog, l.Start,
				plural(l.Cues, "cue")+" given", quote(l.Dog)))
		}
		return usagef("%d sessions were cut off: name the dog", len(fit)).try("%s", strings.Join(list, "\n"))
	}
	if !o.finish {
		if err := a.needTerminal("firstcue live --resume --finish logs the session as it stands"); err != nil {
			return err
		}
	}
	j, err := live.Reopen(fit[0].Path)
	if errors.Is(err, live.ErrBusy) {
		return usagef("the session of %s is still running in another terminal", fit[0].Dog)
	}
	if err != nil {
		return failedf(err, "open the note: %v", err)
	}
	m, err := live.Load(j.Text(), withTargets(k, set, fit[0].Dog), a.env.Now())
	if err != nil {
		j.Close()
		return usagef("%s: %v", fit[0].Path,
			err).try("look at the note; delete the file if there is nothing in it")
	}
	if o.finish {
		m.Unseen()
		return a.logLive(ctx, m, j, o)
	}
	return a.runLive(ctx, m, j, dir, o)
}

// runLive shows the screen and takes keys until the session ends. The terminal
// is put back on every way out.
func (a *app) runLive(ctx context.Context, m *live.Machine, j *live.Journal, dir string,
	o liveOptions) error {
	status, j, err := a.liveScreen(ctx, m, j, dir)
	if j == nil {
		if err == nil {
			a.say("nothing was noted")
		}
		return err
	}
	switch {
	case err == nil && status == live.Finished:
		return a.logLive(ctx, m, j, o)
	case err == nil:
		a.say("kept, not logged: %s\nfirstcue live --resume goes on with it", j.Path())
		return j.Close()
	}
	j.Close()
	a.warn("the session is kept: %s", j.Path())
	a.warn("firstcue live --resume goes on with it")
	return err
}

// logLive logs the note by the way every note goes, and takes it off the disk
// once it is stored.
func (a *app) logLive(ctx context.Context, m *live.Machine, j *live.Journal, o liveOptions) error {
	defer j.Close()
	if err := j.Save(m.Text()); err != nil {
		return failedf(err, "keep the note on disk: %v", err)
	}
	if m.Empty() {
		a.say("no trial was noted, so nothing is logged")
		return j.Remove()
	}
	err := a.runLog(ctx, []input{{name: j.Path(), text: []byte(m.Text()), typed: true}},
		logOptions{format: "text", inHold: o.inHold})
	if err != nil && !a.safe {
		return hinted(err, "the session is kept: "+j.Path(), "firstcue live --resume --finish logs it")
	}
	return errors.Join(err, j.Remove())
}
