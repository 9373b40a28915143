package main_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"
)

const modulePath = "bandbell"

// nature is what a room may do beside importing.
type nature int

const (
	pure   nature = iota // values in, values out: no clock, no files, no sockets
	worker               // does one job beside the others; never imports one of them
	tool                 // stands in for the outside in tests and the demo
	wiring               // imports whatever it puts together
)

type room struct {
	nature nature
	rooms  string // other rooms it may import, without the module's name
	others string // import paths outside the standard library, with what lies below them
}

// rooms is the whole house: a package that is not listed, or imports what is
// not listed for it, fails. Data goes one way round, so a worker that needs
// something of another declares a small interface, and cmd wires them.
var rooms = map[string]room{
	"scheduler/plan":      {pure, "", ""},
	"scheduler/timetable": {pure, "scheduler/plan", ""},
	"templates":           {pure, "", "github.com/yuin/goldmark"},
	"notify/reply":        {pure, "scheduler/plan", "github.com/emersion/go-message golang.org/x/net/html golang.org/x/text"},
	"notify/token":        {pure, "", ""},
	"notify/hookup":       {pure, "scheduler/plan", "golang.org/x/image"},
	"store/compliance":    {pure, "scheduler/plan", "gonum.org/v1/gonum"},
	"cmd/bandbell/chart":  {pure, "scheduler/plan store/compliance", ""},

	"scheduler": {worker, "scheduler/plan scheduler/timetable", "github.com/robfig/cron/v3"},
	"notify": {worker, "scheduler/plan templates notify/token notify/hookup",
		"github.com/emersion/go-smtp github.com/emersion/go-sasl github.com/emersion/go-message golang.org/x/net/idna golang.org/x/time/rate"},
	"notify/inbox": {worker, "scheduler/plan notify/reply notify/token", "github.com/emersion/go-smtp golang.org/x/net/netutil"},
	"store":        {worker, "scheduler/plan notify/reply store/compliance", "github.com/mattn/go-sqlite3"},
	"cmd/bandbell/desk": {worker, "scheduler/plan scheduler/timetable store/compliance templates notify/hookup cmd/bandbell/chart",
		""},

	"notify/mailtest": {tool, "", "github.com/emersion/go-smtp github.com/emersion/go-sasl"},

	"cmd/bandbell":      {wiring, "", ""},
	"cmd/bandbell/demo": {wiring, "", ""},
}

// unbuilt are rooms of the house that hold nothing yet.
var unbuilt = []string{"cmd/bandbell/desk"}

// databases may be imported by the store alone, in tests too.
var databases = []string{"database/sql", "github.com/mattn/go-sqlite3"}

// outside are packages by which a pure room would reach out of itself.
var outside = []string{"os", "net", "net/http", "net/smtp", "syscall", "log", "log/slog", "database/sql", "io/ioutil", "testing"}

// importFaults holds one import of one room against the table.
func importFaults(name, imported string, inTest bool) (faults []string) {
	r, listed := rooms[name]
	if !listed {
		return []string{"is no room of the house"}
	}
	if name != "store" && covers(strings.Join(databases, " "), imported) {
		faults = append(faults, "imports "+imported+", which only store may")
	}
	if inTest || r.nature == wiring {
		return faults
	}
	inner, ours := strings.CutPrefix(imported, modulePath+"/")
	switch {
	case ours && r.nature == worker && rooms[inner].nature == worker:
		faults = append(faults, "is a worker and imports the worker "+inner)
	case ours && !slices.Contains(strings.Fields(r.rooms), inner):
		faults = append(faults, "may not import the room "+inner)
	case !ours && strings.Contains(strings.Split(imported, "/")[0], ".") && !covers(r.others, imported):
		faults = append(faults, "may not import "+imported)
	case r.nature == pure && (slices.Contains(outside, imported) || strings.HasPrefix(imported, "os/")):
		faults = append(faults, "is pure and imports "+imported)
	}
	return faults
}

// covers reports whether an import path is one of the list or lies below one.
func covers(list, imported string) bool {
	return slices.ContainsFunc(strings.Fields(list), func(p string) bool {
		return imported == p || strings.HasPrefix(imported, p+"/")
	})
}

// clockFaults finds where a file asks for the time though its room may not. A
// pure room never does. A worker holds a func() time.Time; it may take time.Now
// as a value, call it where it is made (New..., Open...), and set the deadline
// of a socket by it, since the kernel knows no other clock.
func clockFaults(n nature, fset *token.FileSet, file *ast.File) (faults []string) {
	if n != pure && n != worker {
		return nil
	}
	name := "" // what the file calls the package time
	for _, s := range file.Imports {
		if s.Path.Value == `"time"` {
			if name = "time"; s.Name != nil {
				name = s.Name.Name
			}
		}
	}
	if name == "" {
		return nil
	}
	asks := func(e ast.Expr, names ...string) bool {
		s, ok := e.(*ast.SelectorExpr)
		if !ok {
			return false
		}
		x, ok := s.X.(*ast.Ident)
		return ok && x.Name == name && slices.Contains(names, s.Sel.Name)
	}
	var visit func(node ast.Node, free bool)
	visit = func(node ast.Node, free bool) {
		ast.Inspect(node, func(at ast.Node) bool {
			call, isCall := at.(*ast.CallExpr)
			switch {
			case n == pure && isAsk(at, asks):
				faults = append(faults, fmt.Sprintf("%s: a pure room asks for the time", fset.Position(at.Pos())))
			case n == worker && !free && isCall && asks(call.Fun, "Now", "Since", "Until"):
				faults = append(faults, fmt.Sprintf("%s: a worker asks for the time instead of its now", fset.Position(at.Pos())))
			case isCall && !free && setsDeadline(call):
				visit(call.Fun, false)
				for _, a := range call.Args {
					visit(a, true)
				}
				return false
			}
			return true
		})
	}
	if name == "." {
		return []string{file.Name.Name + ": the package time is imported without its name"}
	}
	for _, d := range file.Decls {
		f, ok := d.(*ast.FuncDecl)
		visit(d, ok && f.Recv == nil && (strings.HasPrefix(f.Name.Name, "New") || strings.HasPrefix(f.Name.Name, "Open")))
	}
	return faults
}

func isAsk(at ast.Node, asks func(ast.Expr, ...string) bool) bool {
	e, ok := at.(ast.Expr)
	return ok && asks(e, "Now", "Since", "Until")
}

func setsDeadline(call *ast.CallExpr) bool {
	s, ok := call.Fun.(*ast.SelectorExpr)
	return ok && slices.Contains([]string{"SetDeadline", "SetReadDeadline", "SetWriteDeadline"}, s.Sel.Name)
}

// moduleRoot is the directory of go.mod at or above the test's own.
func moduleRoot(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test")
		}
		dir = up
	}
}

func TestRooms(t *testing.T) {
	root := moduleRoot(t)
	found := map[string]bool{}
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && file != root && (d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") || strings.HasPrefix(d.Name(), "_")) {
			return fs.SkipDir
		}
		if d.IsDir() || path.Ext(d.Name()) != ".go" {
			return nil
		}
		inRoot, err := filepath.Rel(root, file)
		if err != nil {
			return err
		}
		inRoot = filepath.ToSlash(inRoot)
		name := path.Dir(inRoot)
		inTest := strings.HasSuffix(inRoot, "_test.go")
		found[name] = found[name] || !inTest
		fset := token.NewFileSet()
		source, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		parsed, err := parser.ParseFile(fset, inRoot, source, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		if _, listed := rooms[name]; !listed {
			t.Errorf("%s: %s is no room of the house", inRoot, name)
			return nil
		}
		for _, s := range parsed.Imports {
			imported, err := strconv.Unquote(s.Path.Value)
			if err != nil {
				return err
			}
			for _, fault := range importFaults(name, imported, inTest) {
				t.Errorf("%s: %s %s", fset.Position(s.Pos()), name, fault)
			}
		}
		if !inTest {
			for _, fault := range clockFaults(rooms[name].nature, fset, parsed) {
				t.Error(fault)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range slices.Sorted(maps.Keys(rooms)) {
		if found[name] == slices.Contains(unbuilt, name) {
			t.Errorf("the room %s: holds a package: %v, listed as not built: %v", name, found[name], slices.Contains(unbuilt, name))
		}
	}
}

// The table itself: pure rooms stand on pure ones, no worker is given another,
// and following the imports never comes round.
func TestRoomTable(t *testing.T) {
	var below func(name string, way []string)
	below = func(name string, way []string) {
		if slices.Contains(way, name) {
			t.Fatalf("the rooms come round: %v %s", way, name)
		}
		for _, inner := range strings.Fields(rooms[name].rooms) {
			r, listed := rooms[inner]
			if !listed || r.nature != pure {
				t.Errorf("%s is given %s, which is no pure room", name, inner)
			}
			below(inner, append(slices.Clip(way), name))
		}
	}
	for name := range rooms {
		below(name, nil)
	}
}

func TestRulesOfTheHouseRefuse(t *testing.T) {
	for _, tt := range []struct {
		name, imported string
		inTest         bool
		faults         int
	}{
		{"scheduler/plan", "time", false, 0}, {"scheduler/plan", "net/mail", false, 0}, {"scheduler/plan", "os", false, 1}, {"scheduler/plan", "os/exec", false, 1},
		{"scheduler/plan", "bandbell/store/compliance", false, 1}, {"scheduler/plan", "golang.org/x/text", false, 1}, {"scheduler/plan", "pgregory.net/rapid", true, 0},
		{"scheduler", "bandbell/store", false, 1}, {"notify/inbox", "bandbell/notify", false, 1}, {"notify/inbox", "bandbell/notify/reply", false, 0}, {"store", "bandbell/scheduler", false, 1},
		{"scheduler", "github.com/robfig/cron/v3", false, 0}, {"scheduler", "github.com/robfig/cron/v31", false, 1}, {"notify", "github.com/robfig/cron/v3", false, 1},
		{"store", "database/sql", false, 0}, {"store", "github.com/mattn/go-sqlite3", false, 0}, {"cmd/bandbell", "database/sql", false, 1}, {"cmd/bandbell", "database/sql", true, 1},
		{"cmd/bandbell/demo", "github.com/mattn/go-sqlite3", false, 1}, {"scheduler/plan", "database/sql/driver", false, 1}, {"cmd/bandbell", "bandbell/store", false, 0},
		{"cmd/bandbell/desk", "bandbell/store", false, 1}, {"cmd/bandbell/chart", "bandbell/store/compliance", false, 0}, {"util", "fmt", false, 1}, {"notify/mailtest", "bandbell/scheduler/plan", false, 1},
	} {
		if got := importFaults(tt.name, tt.imported, tt.inTest); len(got) != tt.faults {
			t.Errorf("%s imports %s (in a test: %v): %q", tt.name, tt.imported, tt.inTest, got)
		}
	}
	for _, tt := range []struct {
		body         string
		pure, worker int
	}{
		{`var now = time.Now`, 1, 0},
		{`func New() { t := time.Now(); _ = t }`, 1, 0},
		{`func OpenFile() { f := func() { time.Now() }; f() }`, 1, 0},
		{`func (s *S) New() { time.Now() }`, 1, 1},
		{`func Tick() { _ = time.Now() }`, 1, 1},
		{`func Tick() { _ = time.Since(start) + time.Until(end) }`, 2, 2},
		{`var started = time.Now()`, 1, 1},
		{`func (s *S) read() { s.conn.SetReadDeadline(time.Now().Add(s.wait)) }`, 1, 0},
		{`func (s *S) read() { s.conn.SetReadDeadline(s.now()); s.at = time.Now() }`, 1, 1},
		{`func Tick(now time.Time) { _ = now.Add(time.Hour) }`, 0, 0},
	} {
		for _, alias := range []string{"", "clock "} {
			body := tt.body
			if alias != "" {
				body = strings.ReplaceAll(body, "time.", "clock.")
			}
			fset := token.NewFileSet()
			file, err := parser.ParseFile(fset, "x.go", "package x\nimport "+alias+"\"time\"\n"+body, 0)
			if err != nil {
				t.Fatal(err)
			}
			if p, w := clockFaults(pure, fset, file), clockFaults(worker, fset, file); len(p) != tt.pure || len(w) != tt.worker {
				t.Errorf("%s: pure %q, worker %q", body, p, w)
			}
			if len(clockFaults(wiring, fset, file)) != 0 {
				t.Errorf("%s: refused in cmd", body)
			}
		}
	}
}

// committed lists the files under version control, or, in a tree without its
// history, every file there is.
func committed(t *testing.T, root string) []string {
	t.Helper()
	if out, err := exec.Command("git", "-C", root, "ls-files", "-z").Output(); err == nil && len(out) > 0 {
		return strings.Split(strings.TrimSuffix(string(out), "\x00"), "\x00")
	}
	var files []string
	err := fs.WalkDir(os.DirFS(root), ".", func(file string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() && d.Name() == ".git" {
			return fs.SkipDir
		}
		if err == nil && !d.IsDir() {
			files = append(files, file)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func TestTopLevel(t *testing.T) {
	allowed := strings.Fields(`cmd scheduler notify store templates testdata go.mod go.sum README.md DEVELOPERS.md
		config.example.toml LICENSE .gitignore .gitattributes .ci`)
	found := map[string]bool{}
	for _, file := range committed(t, moduleRoot(t)) {
		top, _, _ := strings.Cut(file, "/")
		found[top] = true
	}
	for _, top := range slices.Sorted(maps.Keys(found)) {
		if !slices.Contains(allowed, top) {
			t.Errorf("%s has no room at the top level", top)
		}
	}
	for _, top := range allowed {
		if !found[top] {
			t.Errorf("%s is missing at the top level", top)
		}
	}
}

// TestNothingNamesThisMachine reads every committed text for the paths and
// hosts of the machine it is built on: they mean nothing to whoever reads them
// elsewhere, and tell what is nobody's business.
func TestNothingNamesThisMachine(t *testing.T) {
	root := moduleRoot(t)
	names := machineNames(t, root)
	homes := regexp.MustCompile(`(?:/home|/Users|[A-Z]:\\Users)[/\\][\w.-]+[/\\]`)
	for _, file := range committed(t, root) {
		text, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(file)))
		if errors.Is(err, fs.ErrNotExist) {
			continue // taken out, and not committed yet
		}
		if err != nil {
			t.Fatal(err)
		}
		if !utf8.Valid(text) || bytes.IndexByte(text, 0) >= 0 {
			continue
		}
		for n, line := range strings.Split(string(text), "\n") {
			for _, name := range names {
				if strings.Contains(line, name) {
					t.Errorf("%s:%d: names a place of this machine", file, n+1)
				}
			}
			if homes.MatchString(line) {
				t.Errorf("%s:%d: names somebody's home", file, n+1)
			}
		}
	}
}

func machineNames(t *testing.T, root string) []string {
	t.Helper()
	names := []string{root}
	if above := filepath.Dir(root); len(above) > 1 {
		names = append(names, above+string(filepath.Separator))
	}
	if home, err := os.UserHomeDir(); err == nil && len(home) > 1 {
		names = append(names, home+string(filepath.Separator))
	}
	out, err := exec.Command("go", "env", "-json", "GOMODCACHE", "GOPROXY", "GOCACHE").Output()
	if err != nil {
		return names // a compiled test, run where there is no go
	}
	env := map[string]string{}
	if err := json.Unmarshal(out, &env); err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{env["GOMODCACHE"], env["GOCACHE"]} {
		if len(dir) > 1 {
			names = append(names, dir)
		}
	}
	for _, proxy := range strings.FieldsFunc(env["GOPROXY"], func(r rune) bool { return r == ',' || r == '|' }) {
		if u, err := url.Parse(proxy); err == nil && u.Host != "" && u.Host != "proxy.golang.org" {
			names = append(names, u.Hostname())
		}
	}
	return names
}
