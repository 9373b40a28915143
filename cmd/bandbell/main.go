// Command bandbell reminds people in orthodontic treatment of their interarch
// elastics by e-mail, reads what they answer, keeps the record and tells the
// clinic whom to call.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // the zone rules travel with the program
)

func main() {
	// Whatever is written holds health data: for its owner only.
	syscall.Umask(0o077)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		// A second signal ends the program at once.
		<-ctx.Done()
		stop()
	}()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
