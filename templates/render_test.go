package templates

import (
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// Every built-in message as its invented patient would read it.
func TestGolden(t *testing.T) {
	for _, e := range Default().List() {
		t.Run(e.Path(), func(t *testing.T) {
			m, err := Default().Render(Sample(e))
			if err != nil {
				t.Fatal(err)
			}
			name := strings.TrimSuffix(strings.ReplaceAll(e.Path(), "/", "."), ".md")
			golden(t, name+".txt", "Subject: "+m.Subject+"\nPreheader: "+m.Preheader+"\n\n"+m.Text)
			if e.Variant == "d0" || e.Variant == "PCD" || e.Kind == "digest" {
				golden(t, name+".html", m.HTML)
			}
		})
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", "golden", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", name, d)
	}
}

func TestRenderRefuses(t *testing.T) {
	for _, tc := range []struct {
		name, want string
		change     func(*Request)
	}{
		{"unknown kind", `there is no message "band-chang.PCD"`, func(r *Request) { r.Kind = "band-chang" }},
		{"unknown variant", `there is no message "band-change.PCX"`, func(r *Request) { r.Variant = "PCX" }},
		{"no phone", "no value for clinic_phone", func(r *Request) { delete(r.Values, "clinic_phone") }},
		{"phone of blanks", "no value for clinic_phone", func(r *Request) { r.Values["clinic_phone"] = " \r\n" }},
		{"all at once", "no value for clinic_name; no value for clinic_phone; value \"nmae\" is not a known placeholder", func(r *Request) {
			delete(r.Values, "clinic_phone")
			delete(r.Values, "clinic_name")
			r.Values["nmae"] = "secret"
		}},
		{"value too long", "value first_name is longer than 500 characters", func(r *Request) { r.Values["first_name"] = strings.Repeat("x", 501) }},
		{"not a number", "value day_number is not a number", func(r *Request) { r.Values["day_number"] = "two" }},
		{"negative count", "count day_number is below nought", func(r *Request) { r.Counts["day_number"] = -1 }},
		{"count of a text", `count "meal" is not a known number`, func(r *Request) { r.Counts["meal"] = 1 }},
		{"rows as value", "rows are given in Rows", func(r *Request) { r.Values["rows"] = "x" }},
		{"no reply address", "the reply address is missing", func(r *Request) { r.ReplyTo = "" }},
		{"reply address with a line break", "not a plain address", func(r *Request) { r.ReplyTo = "a@b.test\r\nBcc: c" }},
		{"picture of the wrong kind", "picture is not a Content-ID", func(r *Request) { r.Picture = "a@b.test" }},
		{"a dose by way of a value", "amount of medicine", func(r *Request) { r.Values["first_name"] = "take 400 mg" }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			req := Sample(Entry{"band-change", "PCD", "en"})
			req.Counts = map[string]int{}
			tc.change(&req)
			m, err := Default().Render(req)
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Fatalf("got %v, want %q", err, tc.want)
			}
			if strings.Contains(err.Error(), "secret") || m != (Message{}) {
				t.Errorf("a value or a message came with the error: %v", err)
			}
		})
	}
	long := Sample(Entry{"band-change", "PCD", "en"})
	long.Values["first_name"] = strings.Repeat("x", 500)
	if _, err := Default().Render(long); err != nil {
		t.Errorf("a value of 500 characters: %v", err)
	}
}

func TestDigestRows(t *testing.T) {
	e := Entry{"digest", "", "en"}
	for _, tc := range []struct {
		rows  int
		row   string
		shown int // at least
		exact bool
	}{
		{0, "", 0, true}, {1, "x", 1, true}, {MaxRows, "x", MaxRows, true}, {MaxRows + 1, "x", MaxRows, true}, {1000, "x", MaxRows, true},
		{1000, strings.Repeat(`"`, 400), 1, false}, // each quote takes five bytes in HTML
	} {
		req := Sample(e)
		delete(req.Counts, "rows_more")
		req.Rows = slices.Repeat([]string{tc.row}, tc.rows)
		m, err := Default().Render(req)
		if err != nil {
			t.Fatal(err)
		}
		shown := strings.Count(m.HTML, "<li>") - 4 // the four numbers below the list
		if shown < tc.shown || tc.exact && shown != tc.shown {
			t.Errorf("%d rows: %d shown, want %d", tc.rows, shown, tc.shown)
		}
		_, more, said := strings.Cut(m.Text, "And ")
		if said != (shown < tc.rows) {
			t.Errorf("%d of %d rows shown, said so: %v", shown, tc.rows, said)
		}
		if n, _, _ := strings.Cut(more, " "); said && n != strconv.Itoa(tc.rows-shown) {
			t.Errorf("%s more said, %d are", n, tc.rows-shown)
		}
	}
}

func TestVersion(t *testing.T) {
	seen := map[string]Entry{}
	for _, e := range Default().List() {
		m, err := Default().Render(Sample(e))
		if err != nil {
			t.Fatal(err)
		}
		least, err := Default().Render(bare(e))
		if err != nil || least.Version != m.Version || len(m.Version) != 12 {
			t.Errorf("%s: versions %q and %q, %v", e.Path(), m.Version, least.Version, err)
		}
		if other, ok := seen[m.Version]; ok {
			t.Errorf("%s and %s share a version", e.Path(), other.Path())
		}
		seen[m.Version] = e
	}
}

func TestPicture(t *testing.T) {
	req := Sample(Entry{"wear-start", "d0", "en"})
	req.Picture = "hookup.1@clinic.test"
	m, err := Default().Render(req)
	if err != nil {
		t.Fatal(err)
	}
	p := parsePage(t, m.HTML)
	if d := cmp.Diff([]string{"cid:hookup.1@clinic.test"}, p.attrs["img.src"]); d != "" {
		t.Errorf("src (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{req.Values["hooks"]}, p.attrs["img.alt"]); d != "" {
		t.Errorf("alt (-want +got):\n%s", d)
	}
	if !strings.Contains(m.Text, "The picture with this e-mail") {
		t.Error("the text part does not speak of the picture")
	}
	for _, bad := range []string{`a"b`, "a b", "<a@b>", "a@b\r\n", "a@b@c", "@b"} {
		req.Picture = bad
		if _, err := Default().Render(req); err == nil {
			t.Errorf("Content-ID %q was taken", bad)
		}
	}
}

func BenchmarkRender(b *testing.B) {
	req := Sample(Entry{"wear-start", "d0", "en"})
	for b.Loop() {
		if _, err := Default().Render(req); err != nil {
			b.Fatal(err)
		}
	}
}
