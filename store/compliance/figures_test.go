package compliance

import (
	"bytes"
	"encoding/json"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// keys lists the paths of a JSON text's keys in the order in which they first
// stand; the entries of a list share one path.
func keys(t *testing.T, text []byte) []string {
	t.Helper()
	dec := json.NewDecoder(bytes.NewReader(text))
	var out []string
	seen := map[string]bool{}
	var value func(path string)
	value = func(path string) {
		tok, err := dec.Token()
		if err != nil {
			t.Fatal(err)
		}
		switch tok {
		case json.Delim('{'):
			for dec.More() {
				key, err := dec.Token()
				if err != nil {
					t.Fatal(err)
				}
				at := strings.TrimPrefix(path+"."+key.(string), ".")
				if !seen[at] {
					seen[at] = true
					out = append(out, at)
				}
				value(at)
			}
		case json.Delim('['):
			for dec.More() {
				value(path)
			}
		default:
			return
		}
		if _, err := dec.Token(); err != nil && err != io.EOF {
			t.Fatal(err)
		}
	}
	value("")
	return out
}

// The shape is a promise to whoever reads it: these keys, in this order.
func TestShapeOfFigures(t *testing.T) {
	r := steadyHours(t, 20)
	r.Visits = []Visit{{Date: date(t, "2026-06-01"), Overjet: mm(4), Left: mm(3), Right: mm(2)}}
	r.sore(t, "2026-06-02 12:00", 3).nudge(t, "2026-06-01", OutcomeAccepted)
	r.reply(t, "2026-06-01 08:30", "2026-06-01/PCM", "on", true)
	b, err := json.Marshal(compute(t, r))
	if err != nil {
		t.Fatal(err)
	}
	want := strings.Fields(`
		days days.day days.length_min days.on_min days.off_min days.unknown_min
		days.worn days.worn.low days.worn.point days.worn.high
		days.working days.working.low days.working.point days.working.high days.usable days.stated
		wear_p
		counts counts.delivered counts.answered counts.confirmed counts.denied
		counts.answered_share counts.answered_share.value counts.answered_share.low counts.answered_share.high
		counts.confirmed_share counts.confirmed_share.value counts.confirmed_share.low counts.confirmed_share.high
		counts.days_at_target counts.days_at_target.days counts.days_at_target.of
		trend trend.baseline_mean trend.baseline_sd trend.lower_limit trend.ewma trend.below trend.cusum trend.cusum_alarm
		silence silence.run silence.chance silence.remarkable
		forecast forecast.measures
		forecast.measures.overjet forecast.measures.overjet.median forecast.measures.overjet.early forecast.measures.overjet.late forecast.measures.overjet.wrong_way
		forecast.measures.left forecast.measures.left.median forecast.measures.left.early forecast.measures.left.late forecast.measures.left.wrong_way
		forecast.measures.right forecast.measures.right.median forecast.measures.right.early forecast.measures.right.late forecast.measures.right.wrong_way
		forecast.finish forecast.finish.median forecast.finish.early forecast.finish.late
		forecast.aligner_end forecast.basis forecast.lag_weeks forecast.extra_trays
		forecast.as_prescribed forecast.as_prescribed.median forecast.as_prescribed.lag_weeks forecast.as_prescribed.extra_trays
		supply supply.bands_per_day supply.empty_on
		soreness soreness.day soreness.value restarts standing why`)
	if diff := cmp.Diff(want, keys(t, b)); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
}

// What is not known is null, and a list is never null.
func TestFiguresOfNothing(t *testing.T) {
	r := fortnight(t)
	r.Window.To = r.Window.From
	b, err := json.Marshal(compute(t, r))
	if err != nil {
		t.Fatal(err)
	}
	want := `{"days":[{"day":"2026-06-01","length_min":1440,"on_min":0,"off_min":0,"unknown_min":1440,` +
		`"worn":{"low":0,"point":1008,"high":1440},"working":{"low":0,"point":840,"high":1200},"usable":false,"stated":false}],` +
		`"wear_p":0.7,` +
		`"counts":{"delivered":0,"answered":0,"confirmed":0,"denied":0,"answered_share":null,"confirmed_share":null,"days_at_target":{"days":0,"of":0}},` +
		`"trend":{"baseline_mean":null,"baseline_sd":null,"lower_limit":null,"ewma":null,"below":false,"cusum":null,"cusum_alarm":false},` +
		`"silence":{"run":0,"chance":1,"remarkable":false},` +
		`"forecast":{"measures":{},"finish":{"median":null,"early":null,"late":null},"aligner_end":"2027-01-13","basis":"assumption",` +
		`"lag_weeks":null,"extra_trays":null,"as_prescribed":{"median":null,"lag_weeks":null,"extra_trays":null}},` +
		`"supply":{"bands_per_day":0,"empty_on":null},"soreness":[],"restarts":[],"standing":"new",` +
		`"why":["0 days so far that can be judged, fewer than 3"]}`
	if diff := cmp.Diff(want, string(b)); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
}

func TestComputeRefusesWhatIsNoRecord(t *testing.T) {
	r := fortnight(t)
	r.Window.To = r.Window.From.AddDays(-1)
	if _, err := Compute(r); err == nil || !strings.Contains(err.Error(), "before it begins") {
		t.Errorf("a window the wrong way round: %v", err)
	}
	_, err := Compute(&Record{})
	for _, what := range []string{"no zone", "no as_of", "no window", "no first day of bands"} {
		if err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s is not told: %v", what, err)
		}
	}
	// A window of one date that does not exist has no days, and no nulls.
	r = fortnight(t)
	r.Zone = zone(t, "Pacific/Apia")
	r.Plan.BandsStart = date(t, "2011-12-01")
	r.Window = Window{date(t, "2011-12-30"), date(t, "2011-12-30")}
	b, err := json.Marshal(compute(t, r))
	if err != nil || !strings.HasPrefix(string(b), `{"days":[],`) {
		t.Errorf("%v: %.80s", err, b)
	}
}
