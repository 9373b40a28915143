package main

import (
	"fmt"
	"runtime/debug"

	"bandbell/store"

	"github.com/spf13/cobra"
)

// version is set by the release build; a plain build reports its commit.
var version = "development"

// programVersion is what is written into a database and told by `version`.
func programVersion() string {
	if version != "development" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" && len(s.Value) >= 12 {
				return "development-" + s.Value[:12]
			}
		}
	}
	return version
}

func (a *app) versionVerb() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Say which version this is, and of what",
		Args:  exactly(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			sqlite := store.SQLiteVersion()
			schema := store.SchemaVersion()
			tz := zoneData()
			if a.json {
				return a.print(map[string]any{"version": programVersion(), "sqlite": sqlite, "schema": schema, "zone_data": tz})
			}
			_, err := fmt.Fprintf(a.out, "bandbell %s\nSQLite %s, schema %d\ntime zone data: %s\n", programVersion(), sqlite, schema, tz)
			return err
		},
	}
}
