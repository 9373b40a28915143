package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

// The example names every key and no other, and is itself a configuration.
func TestExampleConfigurationIsComplete(t *testing.T) {
	src, err := os.ReadFile("../../config.example.toml")
	if err != nil {
		t.Fatal(err)
	}
	var values map[string]any
	if err := toml.Unmarshal(src, &values); err != nil {
		t.Fatal(err)
	}
	var want []string
	for _, f := range fields(&Config{}) {
		want = append(want, f.key)
	}
	slices.Sort(want)
	if got := flatten(values, ""); !slices.Equal(got, want) {
		t.Errorf("the example names\n%v\nthe program knows\n%v", got, want)
	}
	if err := decodeConfig(&Config{file: "config.example.toml"}, "config.example.toml", src); err != nil {
		t.Error(err)
	}
	// Each key has its meaning above it, or shares its neighbour's.
	lines := strings.Split(string(src), "\n")
	comment := false
	for i, l := range lines {
		switch {
		case strings.HasPrefix(l, "#"):
			comment = true
		case l == "" || strings.HasPrefix(l, "["):
			comment = comment && l != ""
		case !comment && !strings.Contains(l, "max_") && !strings.Contains(l, "_timeout") && !strings.HasPrefix(l, "port") && !strings.HasPrefix(l, "password_file"):
			t.Errorf("line %d, %q, is not explained", i+1, l)
		}
	}
}

// A default given in the program is the one the example shows, so that leaving
// a key out changes nothing.
func TestDefaultsAreThoseOfTheExample(t *testing.T) {
	src, err := os.ReadFile("../../config.example.toml")
	if err != nil {
		t.Fatal(err)
	}
	var values map[string]any
	if err := toml.Unmarshal(src, &values); err != nil {
		t.Fatal(err)
	}
	personal := []string{"smtp.user", "smtp.password_file", "mail.token_key_file"}
	for _, f := range fields(&Config{}) {
		if f.missing == required || slices.Contains(personal, f.key) {
			continue
		}
		if got, _ := lookup(values, f.key); got != f.missing {
			t.Errorf("%s: the example says %v, the default is %v", f.key, got, f.missing)
		}
	}
}

func TestRelativePathsAreRelativeToTheConfiguration(t *testing.T) {
	dir := t.TempDir()
	src, err := os.ReadFile("../../config.example.toml")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "bandbell.toml")
	if err := os.WriteFile(file, src, 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := loadConfig(file)
	if err != nil {
		t.Fatal(err)
	}
	if want := filepath.Join(dir, "bandbell.db"); c.Database.Path != want {
		t.Errorf("database at %s, want %s", c.Database.Path, want)
	}
	if c.SMTP.CAFile != "" {
		t.Errorf("an empty file name became %q", c.SMTP.CAFile)
	}
}

func FuzzDecodeConfig(f *testing.F) {
	src, err := os.ReadFile("../../config.example.toml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(src)
	f.Add([]byte("[clinic]\nname = 1\nname.x = 2\n"))
	f.Add([]byte("clinic = 3\n[[smtp]]\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		// Whatever it is, it is read or refused.
		_ = decodeConfig(&Config{file: "x.toml"}, "x.toml", src)
	})
}
