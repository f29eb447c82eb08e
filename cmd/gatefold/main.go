package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
)

func main() {
	os.Exit(runMain())
}

// runMain is apart from main so that the signal handler is released before the process exits.
func runMain() int {
	useCarriedData()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a := &app{in: os.Stdin, out: os.Stdout, errs: os.Stderr, now: time.Now}
	return a.run(ctx, os.Args[1:])
}
