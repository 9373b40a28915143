package compliance

import "math"

// Constants of silence. Common practice, no source.
const (
	silencePriorWeight = 10   // nudges that the prior share of answers is worth
	silenceRun         = 3    // unanswered nudges before silence can be remarkable
	silenceChance      = 0.01 // chance under which it is
)

// Silence is how unlikely the present run of unanswered nudges is for this
// patient.
type Silence struct {
	Run        int   `json:"run"`    // unanswered nudges since the last answer of any kind
	Chance     Share `json:"chance"` // of so long a run, 1 for none
	Remarkable bool  `json:"remarkable"`
}

// silence weighs n, the unanswered delivered nudges due after the last report
// or flag of any kind, against the N other delivered nudges of which a were
// answered: p = (a + 10 prior) / (N + 10), chance = (1 - p)^n. Any human
// answer ends the run.
func (v *view) silence() Silence {
	delivered, last := v.delivered(), v.lastAnswer()
	answers := v.answers(delivered)
	var n, others, answered int
	for _, e := range delivered {
		ok := answers[e.Slot].answered
		switch {
		case !ok && e.Due.After(last):
			n++
		case ok:
			others++
			answered++
		default:
			others++
		}
	}
	p := (float64(answered) + silencePriorWeight*v.Settings.PriorAnswer) / float64(others+silencePriorWeight)
	chance := math.Pow(1-p, float64(n)) // 1 for n = 0, whatever p
	return Silence{n, Share(chance), n >= silenceRun && chance < silenceChance}
}
