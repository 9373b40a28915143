package main

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
)

// zoneData says which release of the IANA time zone data the program reads and
// where from. Go reads $ZONEINFO first, then the system's files, then the copy
// built into the program.
func zoneData() string {
	dirs := []string{"/usr/share/zoneinfo", "/usr/share/lib/zoneinfo", "/usr/lib/locale/TZ", "/etc/zoneinfo"}
	if z := os.Getenv("ZONEINFO"); z != "" {
		dirs = append([]string{z}, dirs...)
	}
	for _, dir := range dirs {
		if _, err := os.Stat(filepath.Join(dir, "Europe", "Berlin")); err != nil {
			if !strings.HasSuffix(dir, ".zip") {
				continue
			}
			return "from " + dir
		}
		return "release " + release(dir) + ", from " + dir
	}
	return "as built into the program by " + runtime.Version()
}

// release reads the release's name from the files that carry one.
func release(dir string) string {
	for _, name := range []string{"tzdata.zi", "+VERSION"} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			continue
		}
		line, _, _ := strings.Cut(string(b), "\n")
		return strings.TrimSpace(strings.TrimPrefix(line, "# version "))
	}
	return "unknown"
}
