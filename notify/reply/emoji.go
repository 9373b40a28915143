package reply

import (
	"unicode"
)

// isEmoji is true of pictures and the marks used like them.
func isEmoji(r rune) bool {
	switch {
	case r >= 0x1F3FB && r <= 0x1F3FF:
		return false
	case r >= 0x1F300 && r <= 0x1FAFF, r >= 0x2600 && r <= 0x27BF, r >= 0x1F1E6 && r <= 0x1F1FF, r == 0x2B50, r == 0x2B55, r >= 0x1F000 && r < 0x1F300:
		return true
	}
	return false
}

func isEmojiText(s string) bool {
	found := false
	for _, r := range s {
		if isEmoji(r) {
			found = true
		} else if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return false
		}
	}
	return found && len(s) < 40
}
