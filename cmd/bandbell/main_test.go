package main

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the expected output of scripts")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"bandbell": func() {
			os.Exit(run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
		},
		"bandbelld": main, // with signals
	})
}

// shared is the directory of the repository's test data.
func shared(t testing.TB) string {
	t.Helper()
	dir, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

// TestScripts runs every script of testdata/script: one behaviour a file.
func TestScripts(t *testing.T) {
	dir := filepath.Join(shared(t), "script")
	if files, err := filepath.Glob(filepath.Join(dir, "*.txtar")); err != nil || len(files) == 0 {
		t.Fatalf("no scripts in %s: %v", dir, err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("DATA", shared(t))
			e.Setenv("TZ", os.Getenv("TZ"))
			return nil
		},
	})
}
