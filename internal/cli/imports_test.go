package cli

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "firstcue/"

// allowed lists what the non-test files of each package may import, besides
// the standard library. The same table stands in DEVELOPERS.md.
var allowed = map[string][]string{
	"cmd/firstcue":               {"internal/cli", "golang.org/x/term"},
	"internal/training":          {},
	"internal/stats":             {"gonum.org/v1/gonum"},
	"internal/stats/check":       {"internal/stats"},
	"internal/model":             {"gonum.org/v1/gonum"},
	"internal/note":              {"internal/training", "golang.org/x/text"},
	"internal/sheet":             {"internal/training", "internal/note", "golang.org/x/text"},
	"internal/live":              {"internal/training", "internal/note", "golang.org/x/term", "github.com/clipperhouse/displaywidth"},
	"internal/store":             {"internal/training", "modernc.org/sqlite", "modernc.org/sqlite/lib", "modernc.org/libc", "github.com/google/uuid"},
	"internal/store/generate":    {"internal/store", "internal/training"},
	"internal/store/measure":     {},
	"internal/analysis":          {"internal/training", "internal/stats", "internal/model"},
	"internal/analysis/simulate": {"internal/analysis", "internal/training", "internal/model", "gonum.org/v1/gonum"},
	"internal/say":               {"internal/training", "internal/analysis"},
	"internal/report": {"internal/training", "internal/analysis", "internal/stats", "internal/say", "internal/report/chart",
		"github.com/olekukonko/tablewriter", "github.com/clipperhouse/displaywidth"},
	"internal/report/chart": {"internal/training", "github.com/clipperhouse/displaywidth", "golang.org/x/image"},
	"internal/cli": {"internal/training", "internal/note", "internal/store", "internal/analysis", "internal/say",
		"internal/report", "internal/sheet", "internal/live", "internal/stats/check", "github.com/spf13", "golang.org/x/term"},
	"internal/cli/manual": {"internal/cli", "github.com/spf13/cobra"},
}

func TestImportsFlowOneWay(t *testing.T) {
	root := os.DirFS("../..")
	seen := map[string]bool{}
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return err
		}
		pkg := path.Dir(name)
		rule, ok := allowed[pkg]
		if !ok {
			t.Errorf("%s: package %s has no row in the import table", name, pkg)
		}
		seen[pkg] = true
		src, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, src, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range file.Imports {
			imp, _ := strconv.Unquote(spec.Path.Value)
			own, inModule := strings.CutPrefix(imp, module)
			first, _, _ := strings.Cut(imp, "/")
			if !inModule && !strings.Contains(first, ".") {
				continue // standard library
			}
			if !slices.ContainsFunc(rule, func(a string) bool {
				return own == a || imp == a || !inModule && strings.HasPrefix(imp, a+"/")
			}) {
				t.Errorf("%s imports %s, which %s may not import", name, imp, pkg)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for pkg := range allowed {
		if !seen[pkg] {
			t.Errorf("import table names %s, but no such package has Go files", pkg)
		}
	}
}
