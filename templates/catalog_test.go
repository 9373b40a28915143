package templates

import "testing"

func TestBuiltInMessagesLoad(t *testing.T) {
	if _, err := builtIn(); err != nil {
		t.Fatal(err)
	}
}
