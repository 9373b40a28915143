package reply

import (
	"regexp"
	"strings"
)

// dsn is one recipient's fields of a delivery-status report (RFC 3464 2.3).
type dsn struct {
	recipient, action, status, diagnostic string
}

// statusFields reads the blocks of a report: the first is of the message, each
// further one of a recipient. Reports that run them together are read too.
func statusFields(text string) []dsn {
	var out []dsn
	cur := dsn{}
	flush := func() {
		if cur.recipient != "" || cur.action != "" || cur.status != "" {
			out = append(out, cur)
		}
		cur = dsn{}
	}
	last := ""
	for n, line := range strings.Split(normalLines(text), "\n") {
		if n > 2000 || len(out) > 100 {
			break
		}
		if strings.TrimSpace(line) == "" {
			flush()
			last = ""
			continue
		}
		if line[0] == ' ' || line[0] == '\t' {
			if last == "diagnostic-code" && len(cur.diagnostic) < 2000 {
				cur.diagnostic += " " + strings.TrimSpace(line)
			}
			continue
		}
		name, value, ok := cutField([]byte(line))
		if !ok {
			continue
		}
		last = name
		switch name {
		case "final-recipient", "original-recipient":
			// "rfc822; addr"
			addr := value
			if i := strings.IndexByte(addr, ';'); i >= 0 {
				addr = addr[i+1:]
			}
			addr = strings.Trim(strings.TrimSpace(addr), "<>")
			if name == "final-recipient" || cur.recipient == "" {
				cur.recipient = cleanRunes(addr)
			}
		case "action":
			cur.action = keyword(value)
		case "status":
			cur.status = enhanced.FindString(value)
		case "diagnostic-code":
			if i := strings.IndexByte(value, ';'); i >= 0 && i < 20 {
				value = value[i+1:]
			}
			cur.diagnostic = strings.TrimSpace(value)
		}
	}
	flush()
	return out
}

// failed tells whether a report speaks of anything but success.
func failed(bd *body) bool {
	seen := false
	for _, s := range bd.statuses {
		for _, d := range statusFields(s) {
			switch d.action {
			case "delivered", "relayed", "expanded":
				seen = true
			default:
				if d.recipient != "" || d.action != "" || d.status != "" && d.status[0] != '2' {
					return true
				}
			}
		}
	}
	return !seen
}

var (
	enhanced  = regexp.MustCompile(`\b[245]\.\d{1,3}\.\d{1,3}\b`)
	basicCode = regexp.MustCompile(`(?:^|[\s:;(<#-])([45]\d\d)(?:[ \-#:.]|$)`)
	anyAddr   = regexp.MustCompile(`[A-Za-z0-9._%+=/'-]+@[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?`)
)

// bounced fills the Reading of a delivery report, with or without the
// machine-readable part.
func bounced(r Reading, h header, bd *body) Reading {
	r.Kind, r.NoAnswer, r.Changed, r.Allergy = KindBounce, true, None, AllergyNone
	text := clip(bd.allText(), 8<<10)
	b := &Bounce{Class: "unknown"}
	var pick dsn
	for _, s := range bd.statuses {
		for _, d := range statusFields(s) {
			if d.recipient == "" {
				continue
			}
			if pick.recipient == "" || pick.action != "failed" && d.action == "failed" {
				pick = d
			}
		}
	}
	b.Recipient, b.Status, b.Diagnostic = pick.recipient, pick.status, pick.diagnostic
	if b.Recipient == "" {
		if list := addresses(h.get("x-failed-recipients")); len(list) > 0 {
			b.Recipient = list[0]
		}
	}
	if b.Diagnostic == "" {
		b.Diagnostic = diagnosticLine(text)
	}
	b.Diagnostic = clip(oneLine(b.Diagnostic), 500)
	if b.Recipient == "" {
		b.Recipient = failedAddress(text, bd.returned, r.Envelope)
	}
	// A general status gives way to the server's own, more exact one.
	inner := enhanced.FindString(b.Diagnostic)
	if inner == "" && b.Status == "" {
		inner = enhanced.FindString(text)
	}
	if inner != "" && (b.Status == "" || strings.HasSuffix(b.Status, ".0.0") && inner[0] == b.Status[0]) {
		b.Status = inner
	}
	basic := ""
	if m := basicCode.FindStringSubmatch(b.Diagnostic); m != nil {
		basic = m[1]
	} else if m := basicCode.FindStringSubmatch(text); m != nil && b.Status == "" {
		basic = m[1]
	}
	words := strings.ToLower(b.Diagnostic + " " + r.Envelope.Subject + " " + clip(text, 4<<10))
	b.Class = bounceClass(pick.action, b.Status, basic, words)
	b.Cause = bounceCause(b.Status, strings.ToLower(b.Diagnostic+" "+clip(text, 4<<10)))
	if bd.returned != nil {
		if ids := messageIDs(bd.returned.get("message-id")); len(ids) > 0 {
			b.MessageID = ids[0]
		}
	}
	r.Bounce = b
	r.Why = "a delivery report: " + b.Class + ", " + b.Cause
	if b.Class == "unknown" {
		r.NeedsPerson = true
		r.Why += "; its class cannot be told"
	}
	r.Damaged = bd.damaged
	return r
}

// bounceClass: the action, then the code's first figure, then words.
func bounceClass(action, status, basic, words string) string {
	if action == "delayed" {
		return "temporary"
	}
	for _, code := range []string{status, basic} {
		if code == "" {
			continue
		}
		switch code[0] {
		case '5':
			return "permanent"
		case '4':
			// Given up after trying is final for this message, though the
			// code says otherwise; the cause stays what it was.
			if action == "failed" && bounceGaveUp.MatchString(words) {
				return "temporary"
			}
			return "temporary"
		}
	}
	switch {
	case bounceTemporary.MatchString(words):
		return "temporary"
	case bouncePermanent.MatchString(words), action == "failed":
		return "permanent"
	}
	return "unknown"
}

// Words of free-text reports (common practice, no source).
var (
	bounceGaveUp    = regexp.MustCompile(`giving up|given up|too long|retry time`)
	bounceTemporary = regexp.MustCompile(`\b(delay|delayed|will (be )?(re)?tr(y|ied)|still trying|keep trying|temporar(y|ily)|not yet been delivered|has not been delivered yet|warning|deferred|greylist|try again later|over ?quota|quota exceeded|mailbox (is )?full|full mailbox|inbox (is )?full|buz[oó]n (est[aá] )?lleno|retrasad|se seguir[aá] intentando|verz[öo]gert|postfach voll|timed? ?out|retard)`)
	bouncePermanent = regexp.MustCompile(`\b(user unknown|unknown user|no such (user|recipient|mailbox|address|person|account)|does(n't| not) exist|address not found|couldn't be found|wasn't found|not found|permanent|invalid (recipient|address|mailbox)|mailbox (unavailable|not found|disabled)|account (has been )?(disabled|closed|inactive)|undeliverable|unable to deliver|could not be delivered|couldn't be delivered|not be delivered|failed permanently|delivery (to the following .{0,40})?failed|rejected|refused|blocked|no longer (exists|available)|unbekannt|existiert nicht|no existe|no se (ha )?(pudo|podido) entregar|desconocido|no encontrad|inexist|n'existe pas|inconnu|this is a permanent error)`)
	causeAddress    = regexp.MustCompile(`user unknown|unknown user|no such (user|recipient|mailbox|address|person|account|domain)|does(n't| not) exist|address not found|couldn't be found|wasn't found|recipient not found|invalid (recipient|address|mailbox)|mailbox (unavailable|not found)|account (has been )?(closed|deleted|terminated)|no mailbox|unrouteable address|host (or domain name )?not found|domain .{0,40}not found|unbekannt|existiert nicht|no existe|desconocido|no encontrad|n'existe pas|inconnu|bad destination|not our customer|no longer (exists|available|valid)|recipient address rejected: (undeliverable|user|unknown)`)
	causeMailbox    = regexp.MustCompile(`quota|mailbox (is )?full|inbox (is )?full|full mailbox|lleno|voll\b|too (large|big)|size limit|exceeds|insufficient (system )?storage|disabled|inactive|suspended`)
	causePolicy     = regexp.MustCompile(`spam|blocked|block ?list|blacklist|policy|spf|dkim|dmarc|reputation|unsolicited|authentica|access denied|relay|not allowed|not authorized|rejected (for|due to)|content|virus|tls required|banned|prohibited`)
	causeNetwork    = regexp.MustCompile(`timed? ?out|connection (refused|reset|lost)|no route|temporar|greylist|try again|deferred|busy|dns|loop|too many hops|unavailable`)
)

// bounceCause sorts a code by what it says of the address (RFC 3463 section
// 3). A permanent code is no dead address by itself: 5.7.x is policy, ours or
// theirs, and 5.2.2 a full mailbox.
func bounceCause(status, words string) string {
	subject := ""
	if f := strings.SplitN(status, ".", 3); len(f) == 3 {
		subject = f[1] + "." + f[2]
	}
	switch subject {
	case "1.1":
		// Some servers give 5.1.1 to mail they only suspect.
		if causePolicy.MatchString(words) && !causeAddress.MatchString(words) {
			return CausePolicy
		}
		return CauseAddress
	case "1.2", "1.3", "1.6", "1.10", "4.4":
		return CauseAddress
	case "2.1", "2.2", "2.3", "3.4":
		return CauseMailbox
	}
	switch {
	case strings.HasPrefix(subject, "7."):
		return CausePolicy
	case strings.HasPrefix(subject, "2."), strings.HasPrefix(subject, "3."):
		return CauseMailbox
	case strings.HasPrefix(subject, "4."):
		return CauseNetwork
	case strings.HasPrefix(subject, "6."):
		return CauseOther
	case causeMailbox.MatchString(words):
		return CauseMailbox
	case causeAddress.MatchString(words):
		return CauseAddress
	case causePolicy.MatchString(words):
		return CausePolicy
	case causeNetwork.MatchString(words):
		return CauseNetwork
	}
	return CauseOther
}

// diagnosticLine finds the server's own words in a free-text report: the first
// line with a code, then the first that says why.
func diagnosticLine(text string) string {
	lines := strings.Split(text, "\n")
	for _, want := range []*regexp.Regexp{enhanced, basicCode, bouncePermanent, bounceTemporary} {
		for i, l := range lines {
			if i > 200 {
				break
			}
			t := strings.TrimSpace(l)
			if t == "" || len(t) > 1000 || returnedHeader.MatchString(t) {
				continue
			}
			if want.MatchString(strings.ToLower(t)) {
				return t
			}
		}
	}
	return ""
}

var returnedHeader = regexp.MustCompile(`(?i)^(received|message-id|date|x-[a-z-]+|dkim-signature|return-path|content-type|mime-version)\s*:`)

// failedAddress finds whom a free-text report is about: an address on a line
// of its own or beside the reason, else the returned message's To, never our
// own sender.
func failedAddress(text string, returned header, e Envelope) string {
	ownTo := map[string]bool{strings.ToLower(e.From): true}
	for _, a := range e.Recipients {
		ownTo[strings.ToLower(a)] = true
	}
	if returned != nil {
		if list := addresses(returned.get("to")); len(list) > 0 {
			return list[0]
		}
	}
	best := ""
	for i, l := range strings.Split(text, "\n") {
		if i > 300 || returnedHeader.MatchString(l) {
			continue
		}
		for _, a := range anyAddr.FindAllString(clip(l, 1000), 5) {
			low := strings.ToLower(a)
			if ownTo[low] || strings.HasPrefix(low, "postmaster@") || strings.HasPrefix(low, "mailer-daemon@") || strings.HasPrefix(low, "abuse@") {
				continue
			}
			bare := strings.Trim(strings.TrimSpace(l), "<>:;,. ")
			if bare == a || strings.HasPrefix(strings.TrimSpace(l), "<"+a) || strings.Contains(strings.ToLower(l), "to:") {
				return a
			}
			if best == "" {
				best = a
			}
		}
	}
	return best
}
