package plan

import (
	"testing"
)

// One row a quadrant, from the midline back: the codes of ISO 3950:2016
// (FDI two-digit notation) against the Universal numbering of the American
// Dental Association (CDT manual, "Areas of the oral cavity / tooth
// designation") and the positions of Zsigmondy-Palmer. All three tables are
// written from memory of those standards; the upper right canine, 13 = 6 = UR3,
// and the lower right first molar, 46 = 30 = LR6, are their usual examples.
var toothTable = []struct {
	iso       []Tooth
	universal []string
	palmer    []string
	upper     bool
	right     bool
	primary   bool
}{
	{[]Tooth{11, 12, 13, 14, 15, 16, 17, 18}, []string{"8", "7", "6", "5", "4", "3", "2", "1"},
		[]string{"UR1", "UR2", "UR3", "UR4", "UR5", "UR6", "UR7", "UR8"}, true, true, false},
	{[]Tooth{21, 22, 23, 24, 25, 26, 27, 28}, []string{"9", "10", "11", "12", "13", "14", "15", "16"},
		[]string{"UL1", "UL2", "UL3", "UL4", "UL5", "UL6", "UL7", "UL8"}, true, false, false},
	{[]Tooth{31, 32, 33, 34, 35, 36, 37, 38}, []string{"24", "23", "22", "21", "20", "19", "18", "17"},
		[]string{"LL1", "LL2", "LL3", "LL4", "LL5", "LL6", "LL7", "LL8"}, false, false, false},
	{[]Tooth{41, 42, 43, 44, 45, 46, 47, 48}, []string{"25", "26", "27", "28", "29", "30", "31", "32"},
		[]string{"LR1", "LR2", "LR3", "LR4", "LR5", "LR6", "LR7", "LR8"}, false, true, false},
	{[]Tooth{51, 52, 53, 54, 55}, []string{"E", "D", "C", "B", "A"},
		[]string{"URA", "URB", "URC", "URD", "URE"}, true, true, true},
	{[]Tooth{61, 62, 63, 64, 65}, []string{"F", "G", "H", "I", "J"},
		[]string{"ULA", "ULB", "ULC", "ULD", "ULE"}, true, false, true},
	{[]Tooth{71, 72, 73, 74, 75}, []string{"O", "N", "M", "L", "K"},
		[]string{"LLA", "LLB", "LLC", "LLD", "LLE"}, false, false, true},
	{[]Tooth{81, 82, 83, 84, 85}, []string{"P", "Q", "R", "S", "T"},
		[]string{"LRA", "LRB", "LRC", "LRD", "LRE"}, false, true, true},
}

func TestEveryToothInThreeNotations(t *testing.T) {
	seen := map[Tooth]bool{}
	for _, row := range toothTable {
		for i, tooth := range row.iso {
			seen[tooth] = true
			if !tooth.Valid() {
				t.Errorf("%v is not valid", tooth)
			}
			if got := tooth.In(Universal); got != row.universal[i] {
				t.Errorf("%v is Universal %s, want %s", tooth, got, row.universal[i])
			}
			if got := tooth.In(Palmer); got != row.palmer[i] {
				t.Errorf("%v is Palmer %s, want %s", tooth, got, row.palmer[i])
			}
			if tooth.In(ISO) != tooth.String() || tooth.In("") != tooth.String() {
				t.Errorf("%v in ISO is %q, and %q where nothing was chosen", tooth, tooth.In(ISO), tooth.In(""))
			}
			if tooth.Upper() != row.upper || tooth.Right() != row.right {
				t.Errorf("%v: upper %v, right %v", tooth, tooth.Upper(), tooth.Right())
			}
			// Positions count from the midline: two incisors, a canine, then two
			// premolars and three molars, or two primary molars.
			n := i + 1
			molar := n >= 6 || row.primary && n >= 4
			if tooth.Incisor() != (n <= 2) || tooth.Canine() != (n == 3) || tooth.Molar() != molar {
				t.Errorf("%v: incisor %v, canine %v, molar %v", tooth, tooth.Incisor(), tooth.Canine(), tooth.Molar())
			}
		}
	}
	if len(seen) != 52 {
		t.Fatalf("the table holds %d teeth, want the 32 permanent and 20 primary", len(seen))
	}
	for n := -200; n <= 1000; n++ {
		if got := Tooth(n).Valid(); got != seen[Tooth(n)] {
			t.Errorf("Tooth(%d).Valid() = %v", n, got)
		}
	}
}

func TestNoTwoTeethShareANumber(t *testing.T) {
	for _, n := range []Notation{ISO, Universal, Palmer} {
		owner := map[string]Tooth{}
		for _, row := range toothTable {
			for _, tooth := range row.iso {
				name := tooth.In(n)
				if other, ok := owner[name]; ok {
					t.Errorf("%s: %v and %v are both %s", n, other, tooth, name)
				}
				owner[name] = tooth
			}
		}
	}
}

func TestCodesThatAreNoTooth(t *testing.T) {
	for _, code := range []Tooth{0, 3, 9, 10, 19, 20, 29, 30, 39, 40, 49, 50, 56, 59, 60, 66, 70, 76, 80, 86, 90, 91, 99, 110, 111, 113, -11, -13} {
		if code.Valid() {
			t.Errorf("%d is taken for a tooth", int(code))
		}
	}
}
