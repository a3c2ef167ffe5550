package say

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// codes reads every constant of a type from the sources of package analysis, so that a
// new code without words is noticed.
func codes(t *testing.T, typeName string) []string {
	t.Helper()
	pkgs, err := parser.ParseDir(token.NewFileSet(), "../analysis", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, f := range pkgs["analysis"].Files {
		ast.Inspect(f, func(n ast.Node) bool {
			v, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			if id, ok := v.Type.(*ast.Ident); !ok || id.Name != typeName {
				return true
			}
			for _, x := range v.Values {
				if lit, ok := x.(*ast.BasicLit); ok {
					s, err := strconv.Unquote(lit.Value)
					if err != nil {
						t.Fatal(err)
					}
					out = append(out, s)
				}
			}
			return true
		})
	}
	if len(out) == 0 {
		t.Fatalf("analysis has no constant of type %s", typeName)
	}
	return out
}

func TestEveryCodeHasItsWords(t *testing.T) {
	for _, c := range codes(t, "CautionCode") {
		if cautions[analysis.CautionCode(c)] == "" {
			t.Errorf("caution %q has no text", c)
		}
	}
	for _, c := range codes(t, "CautionWhy") {
		if c != string(analysis.FactAlways) && fact(analysis.CautionFact{Why: analysis.CautionWhy(c), Cue: "sit"}) == "" {
			t.Errorf("fact %q has no words", c)
		}
	}
	goal := training.Goal{Cue: "sit", Leash: "off"}
	for _, c := range codes(t, "ReasonCode") {
		if s := Reason(analysis.Reason{Code: analysis.ReasonCode(c), Cue: "sit", Goal: &goal}); s == "" || s == c || !strings.HasSuffix(s, ".") {
			t.Errorf("reason %q is said as %q", c, s)
		}
	}
	for _, c := range codes(t, "LackCode") {
		code := analysis.LackCode(c)
		l := analysis.Lack{Code: code, Cue: "sit", Asks: 3, Sessions: 2, Places: 1, Person: "Bram", Place: "barn", Nights: 1}
		for _, s := range []string{Lack(l), LackShort(l)} {
			if s == "" || s == "level" && code != analysis.LackLevel {
				t.Errorf("lack %q is said as %q", c, s)
			}
		}
	}
	for _, c := range codes(t, "PlanReason") {
		if PlanWhy(analysis.PlanLine{Reason: analysis.PlanReason(c), Cue: "sit"}) == "" {
			t.Errorf("plan reason %q has no words", c)
		}
	}
	for _, c := range codes(t, "GateName") {
		if s := Gate(analysis.GateName(c), training.Response); s == "" {
			t.Errorf("gate %q has no name", c)
		}
	}
}

// A place's name is a value: what stands in it never becomes another place.
func TestNamesAreNotTakenApart(t *testing.T) {
	for _, place := range []string{"north: barn", "Barn (old). East"} {
		l := analysis.PlanLine{Reason: analysis.PlanProve, Cue: "come", Asks: 5, Place: place}
		if got, want := PlanDo(l), "5 comes, at "+place; got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
