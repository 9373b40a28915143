package main

import (
	"fmt"
	"time"

	"bandbell/notify/reply"

	"github.com/spf13/cobra"
)

func (a *app) readVerb() *cobra.Command {
	var lang, kind, meal, sent string
	var explain bool
	c := &cobra.Command{
		Use:   "read FILE...|-",
		Short: "Read replies and print what they are taken to say, changing nothing",
		Long: `Read raw messages (RFC 5322) and print what each is taken to say, a line a file.
No database and no configuration are needed. The nudge a reply answers is named
by --kind, --meal and --sent; the offset of --sent is the patient's zone.`,
		Example: `  bandbell read --json --kind band-change --meal PCD --sent 2026-06-01T13:00:00-04:00 reply.eml`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage("read needs a FILE, or - for standard input\n  hint: bandbell read --help")
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&lang, "lang", "", "the patient's `LANGUAGE`: en, es, fr, de, pt (default: found in the text)")
	f.StringVar(&kind, "kind", reply.BandChange, "the `KIND` of nudge it answers: band-change, wear-start, soreness")
	f.StringVar(&meal, "meal", "", "the `MEAL` it asked about: PCM, PCD, PCV, PC, HS, or day for the whole day")
	f.StringVar(&sent, "sent", "", "when the nudge was sent (RFC 3339 `TIME`, in the patient's zone)")
	f.BoolVar(&explain, "explain", false, "show the text with what was taken from it, clause by clause")
	c.RunE = func(c *cobra.Command, args []string) error {
		asked := reply.Asked{Kind: kind, Meal: meal, Lang: lang}
		switch kind {
		case reply.BandChange, reply.WearStart, reply.Soreness:
		default:
			return usage("--kind %q is not known\n  hint: band-change, wear-start or soreness", kind)
		}
		switch meal {
		case "", "PCM", "PCD", "PCV", "PC", "HS", reply.WholeDay:
		default:
			return usage("--meal %q is not known\n  hint: PCM, PCD, PCV, PC, HS or day", meal)
		}
		switch lang {
		case "", "en", "es", "fr", "de", "pt":
		default:
			return usage("--lang %q is not known\n  hint: en, es, fr, de or pt", lang)
		}
		if sent != "" {
			t, err := time.Parse(time.RFC3339, sent)
			if err != nil {
				return usage("--sent %q is not a time\n  hint: write it as RFC 3339: 2026-06-01T13:00:00-04:00", sent)
			}
			// time.Parse may give the machine's own zone; the offset is what counts.
			_, offset := t.Zone()
			asked.Sent = t.In(time.FixedZone("", offset))
		}
		for _, name := range args {
			raw, err := a.input(name)
			if err != nil {
				return err
			}
			if explain {
				if _, err := fmt.Fprintln(a.out, reply.Explain(raw, asked)); err != nil {
					return err
				}
				continue
			}
			if err := a.printReading(name, reply.Read(raw, asked)); err != nil {
				return err
			}
		}
		return nil
	}
	return c
}

func (a *app) printReading(name string, r reply.Reading) error {
	if a.json {
		return a.print(r)
	}
	person := "no person needed"
	if r.NeedsPerson {
		person = "needs a person"
	}
	_, err := fmt.Fprintf(a.out, "%s: %s, changed: %s, %s (%s)\n", name, r.Kind, r.Changed, person, printable(r.Why))
	return err
}
