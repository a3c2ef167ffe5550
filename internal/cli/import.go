package cli

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/sheet"
	"firstcue/internal/store"
)

const importLong = `Stores trials kept in a spreadsheet. Save the sheet as CSV, one trial a row, with a
header line. What the file looks like (separator, encoding, order of day and month,
decimal mark) is found out and shown; where it can't be told, the import stops and
says which flag settles it. A file that firstcue export wrote needs no flag.

Which column holds what is guessed from the header and shown. Say it yourself with
--map, and what the cells mean with --values:

  --map 'cue=Command, response=Result, date=Day'
  --values 'response: Y=+, N=-; leash: long=long line'

A column of marks may hold the notation of a note (- @9 +1.6), or yes and no with
columns for latency, asks, level and so on. firstcue import --fields lists them.

Rows of one dog, start, handler, place, leash and distraction are one session. What
the sheet does not say can come from flags (--dog, --handler, --place, ...). Where it
has days without times, --at gives the time of day.

Before anything is stored the whole file is read. When rows can't be, they are written
with the reasons to a file beside it (trials.rejected.csv for trials.csv), and nothing
is stored unless --skip-bad says to store the rest. On a terminal it asks before it
stores; without one it needs --yes. Importing a file again adds nothing. A session that
is there with other trials is named and left out: --again adds the file's beside it,
--amend puts the file's in its place. firstcue undo takes the whole import back.`

// importOptions are the flags of import.
type importOptions struct {
	maps, values                               []string
	using, saveMap                             string
	encoding, delimiter, dates, decimal, at    string
	rejected                                   string
	format                                     string
	dryRun, yes, addNew, skipBad, again, amend bool
	inHold, fields, listMaps                   bool
	session                                    [len(importDefaults)]string // as importDefaults
}

// importDefaults are the flags that stand for a field of all rows.
var importDefaults = [...]struct {
	field  sheet.Field
	usage  string
	values func(*app) cobra.CompletionFunc
}{
	{sheet.Dog, "`DOG`, where the file names none",
		func(a *app) cobra.CompletionFunc { return a.completeDogs }},
	{sheet.Handler, "who gave the cues, a `NAME`",
		func(a *app) cobra.CompletionFunc { return a.completeHandlers }},
	{sheet.Scorer, "who wrote it down, a `NAME`, if not the handler",
		func(a *app) cobra.CompletionFunc { return a.completeHandlers }},
	{sheet.Start, "`TIME` the session began, for a file that is one session", nil},
	{sheet.Place, "`PLACE`", func(a *app) cobra.CompletionFunc { return a.completePlaces }},
	{sheet.Leash, "`STATE`: leash, long line, drag line, off", nil},
	{sheet.Distraction, "`CODE` 0 (familiar, quiet) to 4 (this dog's hardest thing)", nil},
	{sheet.Device, "`DEVICE` the levels belong to",
		func(a *app) cobra.CompletionFunc { return a.completeDevices }},
	{sheet.Weather, "weather, in `WORDS`", nil},
	{sheet.Reward, "reward, in `WORDS`", nil},
	{sheet.Source, "how it was recorded: live, video or memory", nil},
}

func newImportCommand(a *app) *cobra.Command {
	var o importOptions
	cmd := &cobra.Command{
		Use:   "import FILE.csv",
		Short: "Store trials kept in a spreadsheet",
		Long:  importLong,
		Example: `  firstcue import trials.csv --dry-run
  firstcue import trials.csv --yes
  firstcue import trials.csv --map 'cue=Command, response=Result' --values 'response: Y=+, N=-' --save-map sheet
  firstcue import april.csv --using sheet --dates dmy --at 9:00`,
		Args: func(cmd *cobra.Command, args []string) error {
			if o.fields || o.listMaps {
				return takes(0, 0, "no file with --fields or --maps")(cmd, args)
			}
			return takes(1, 1, "the name of a CSV file, or - for standard input")(cmd, args)
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"csv", "txt", "tsv"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case o.fields:
				return a.importFields()
			case o.listMaps:
				return a.importMaps(cmd.Context())
			case o.again && o.amend:
				return usagef("--again and --amend do not go together: one adds, the other replaces")
			}
			return a.runImport(cmd.Context(), args[0], o)
		},
	}
	o.flags(a, cmd)
	return cmd
}

func (o *importOptions) flags(a *app, cmd *cobra.Command) {
	fs := cmd.Flags()
	fs.BoolVarP(&o.dryRun, "dry-run", "n", false,
		"read the whole file, show what would be stored, and store nothing")
	fs.StringArrayVar(&o.maps, "map", nil,
		"`FIELD=COLUMN` says which column holds what: 'cue=Command, response=Result'")
	fs.StringArrayVar(&o.values, "values", nil,
		"`MEANINGS` of cells, field by field: 'response: Y=+, N=-; leash: long=long line'")
	fs.StringVar(&o.using, "using", "", "read as remembered under `NAME`")
	fs.StringVar(&o.saveMap, "save-map", "", "remember map, values and layout flags under `NAME`")
	fs.BoolVar(&o.listMaps, "maps", false, "list the remembered maps, as flags to type")
	fs.BoolVar(&o.fields, "fields", false, "list what a column may hold")
	fs.StringVar(&o.dates, "dates", "", "`ORDER` of the dates: dmy, mdy or ymd")
	fs.StringVar(&o.decimal, "decimal", "", "decimal `MARK`: dot or comma")
	fs.StringVar(&o.delimiter, "delimiter", "", "`SIGN` between cells: comma, semicolon or tab")
	fs.StringVar(&o.encoding, "encoding", "", "`ENCODING`: utf-8, utf-16le, utf-16be or windows-1252")
	fs.StringVar(&o.at, "at", "", "`TIME` of day, such as 9:00, of sessions whose time is not in the file")
	fs.BoolVar(&o.addNew, "new", false,
		"names not yet known become entries of the lists; a slip of a known name does not")
	fs.BoolVar(&o.skipBad, "skip-bad", false, "store the rows that can be read, although others can't")
	fs.StringVar(&o.rejected, "rejected", "",
		"write the rows that can't be read to `FILE` (default: trials.rejected.csv for trials.csv)")
	fs.BoolVar(&o.again, "again", false,
		"add a session although one of the same dog and start is there with other trials")
	fs.BoolVar(&o.amend, "amend", false, "put the file's session in the place of the one that is there")
	fs.BoolVar(&o.inHold, "in-hold", false,
		"the trials in a vet hold are meant; they are left out of every figure")
	fs.BoolVarP(&o.yes, "yes", "y", false, "store without a question")
	for i, d := range importDefaults {
		fs.StringVar(&o.session[i], string(d.field), "", d.usage)
		if d.values != nil {
			complete(cmd, string(d.field), d.values(a))
		}
	}
	formatVar(cmd, &o.format, "text", "json")
	complete(cmd, "using", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		var out []string
		mappings := func(ctx context.Context, s *store.Store) ([]store.Mapping, error) { return s.Mappings(ctx) }
		for _, m := range forCompletion(a, mappings) {
			out = append(out, m.Name)
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	})
}

func (a *app) importFields() error {
	var rows [][]string
	for _, f := range sheet.Fields {
		rows = append(rows, []string{string(f.Field), f.Holds})
	}
	return a.table("", []string{"field", "holds"}, rows)
}

func (a *app) importMaps(ctx context.Context) error {
	var rows [][]string
	none, err := a.noStoreYet()
	if err != nil {
		return err
	}
	if !none {
		err = a.reading(ctx, func(s *store.Store) error {
			list, err := s.Mappings(ctx)
			for _, m := range list {
				text := m.Text
				if x, err := sheet.ParseMapping([]byte(m.Text)); err == nil {
					text = mapFlags(x)
				}
				rows = append(rows, []string{m.Name, text})
			}
			return err
		})
	}
	if err != nil {
		return err
	}
	return a.table("no map is remembered; --save-map NAME keeps one", []string{"name", "map"}, rows)
}

// mapFlags writes a remembered map as the flags that say the same.
func mapFlags(m sheet.Mapping) string {
	var flags []string
	if s := m.ColumnsText(); s != "" {
		flags = append(flags, "--map "+quote(s))
	}
	if s := m.ValuesText(); s != "" {
		flags = append(flags, "--values "+quote(s))
	}
	for _, x := range []struct{ flag, value string }{
		{"--dates", string(m.Dates)}, {"--decimal", map[string]string{".": "dot", ",": "comma"}[m.Decimal]},
		{"--delimiter", m.Delimiter}, {"--encoding", string(m.Encoding)},
	} {
		if x.value != "" {
			flags = append(flags, x.flag+" "+quote(x.value))
		}
	}
	return strings.Join(flags, " ")
}
