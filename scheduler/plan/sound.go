package plan

import "strings"

// sound keeps those of the faults found in a plan that do not merely follow
// from a value that could not be read: where a tooth is missing, it says
// nothing of the pattern the others make. What is kept is told together with
// what could not be read, so that nobody mends a plan one fault at a time.
func sound(found Faults, prefix string, unread Faults) Faults {
	var out Faults
	for _, f := range found {
		if !rests(prefix+f.Path, prefix, unread) {
			out = append(out, f)
		}
	}
	return out
}

// rests reports whether a fault at the path rests on a value that was not read.
func rests(path, prefix string, unread Faults) bool {
	for _, u := range unread {
		if u.What == noSuchKey || u.What == standsTwice {
			continue // nothing is amiss with the values that were read
		}
		for _, p := range grounds(path, prefix) {
			if within(p, u.Path) || within(u.Path, p) {
				return true
			}
		}
	}
	return false
}

// grounds are the places that a fault found at the path was reckoned from.
func grounds(path, prefix string) []string {
	band := parent(path)
	switch {
	case strings.HasPrefix(path, prefix+"bands[") && (strings.HasSuffix(path, ".pattern") || strings.HasSuffix(path, ".side")):
		return []string{band + ".side", band + ".pattern", band + ".upper", band + ".lower"}
	case parent(path) == strings.TrimSuffix(prefix, "."): // the days of the treatment
		return []string{path, prefix + "appliance", prefix + "aligner_start", prefix + "bands_start"}
	}
	return []string{path}
}

// within reports whether the inner path is the outer one or lies in it.
func within(inner, outer string) bool {
	rest, ok := strings.CutPrefix(inner, outer)
	return ok && (rest == "" || rest[0] == '.' || rest[0] == '[')
}
