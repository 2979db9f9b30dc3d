package fit

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"
)

// doc.go promises that no product meets a sum unrounded. This reads the source
// for one that does. The files left out go through package math anyway, and
// say so.
func TestNoFusedProducts(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	read := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") || name == "student.go" {
			continue
		}
		read++
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, pos := range fused(f) {
			t.Errorf("%s: product in a sum without float64()", set.Position(pos))
		}
	}
	if read < 9 {
		t.Errorf("%d files read, want all", read)
	}
	f, err := parser.ParseFile(token.NewFileSet(), "", "package p; func _() { a += b*c; d = -(e*f) + 1; g = 2*h - float64(i*j) }", 0)
	if err != nil {
		t.Fatal(err)
	}
	if got := len(fused(f)); got != 2 {
		t.Errorf("%d found in the sample, want 2", got)
	}
}

// fused returns where a sum or difference takes in a bare product. Doubling is
// exact and allowed.
func fused(f *ast.File) (out []token.Pos) {
	product := func(e ast.Expr) {
		for {
			if p, ok := e.(*ast.ParenExpr); ok {
				e = p.X
			} else if u, ok := e.(*ast.UnaryExpr); ok {
				e = u.X
			} else {
				break
			}
		}
		if b, ok := e.(*ast.BinaryExpr); ok && b.Op == token.MUL {
			if l, ok := b.X.(*ast.BasicLit); !ok || l.Value != "2" {
				out = append(out, b.Pos())
			}
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BinaryExpr:
			if n.Op == token.ADD || n.Op == token.SUB {
				product(n.X)
				product(n.Y)
			}
		case *ast.AssignStmt:
			if n.Tok == token.ADD_ASSIGN || n.Tok == token.SUB_ASSIGN {
				product(n.Rhs[0])
			}
		}
		return true
	})
	return out
}

func TestNoAllocation(t *testing.T) {
	var g Gram
	var m Moments
	var w Welford
	var p Bivariate
	x := 0.0
	got := testing.AllocsPerRun(200, func() {
		x++
		g.Add(0.6, 0.8)
		m.Add(x, 0.6, 0.8)
		w.Add(x)
		p.Add(x, 1/x)
		g.Solve(&m)
		sink += T95(w.SD()) + Expanded(Part{U: x, DOF: 3}, TypeB(x))
	})
	if got != 0 {
		t.Errorf("%g allocations a sample, want 0", got)
	}
}

var sink float64

func BenchmarkGramAndSixMoments(b *testing.B) {
	b.ReportAllocs()
	var g Gram
	var m [6]Moments
	x := 0.0
	for b.Loop() {
		x++
		g.Add(0.6, 0.8)
		for i := range m {
			m[i].Add(x, 0.6, 0.8)
		}
	}
}

func BenchmarkGramSolve(b *testing.B) {
	b.ReportAllocs()
	var g Gram
	var m Moments
	for i, c := range []float64{1, 0, -1, 0, 1} {
		g.Add(c, []float64{0, 1, 0, -1, 0}[i])
		m.Add(float64(i), c, []float64{0, 1, 0, -1, 0}[i])
	}
	for b.Loop() {
		f, _ := g.Solve(&m)
		sink += f.Mean
	}
}

func BenchmarkWelford(b *testing.B) {
	b.ReportAllocs()
	var w Welford
	x := 0.0
	for b.Loop() {
		x++
		w.Add(x)
	}
}

func BenchmarkBivariate(b *testing.B) {
	b.ReportAllocs()
	var p Bivariate
	x := 0.0
	for b.Loop() {
		x++
		p.Add(x, x)
	}
}

func BenchmarkWrap(b *testing.B) {
	b.ReportAllocs()
	for _, bb := range []struct {
		name string
		rad  float64
	}{{"inside", 1}, {"one turn more", 7}, {"many", 12345}} {
		b.Run(bb.name, func(b *testing.B) {
			for b.Loop() {
				sink += Wrap(bb.rad)
			}
		})
	}
}

func BenchmarkT95(b *testing.B) {
	b.ReportAllocs()
	for _, bb := range []struct {
		name string
		dof  float64
	}{{"2", 2}, {"29.5", 29.5}, {"1000", 1000}, {"1e6", 1e6}} {
		b.Run(bb.name, func(b *testing.B) {
			for b.Loop() {
				sink += T95(bb.dof)
			}
		})
	}
}
