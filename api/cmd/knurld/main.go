// Command knurld serves the engine over HTTP. It must not know more than how
// to start and stop.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"github.com/knurl-hvacr/knurl/api/app"
)

func main() { os.Exit(run()) }

func run() int {
	config, err := app.Configure(os.Args[1:], os.Getenv, os.Stdout)
	if errors.Is(err, flag.ErrHelp) {
		return 0
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "knurld:", err)
		return 2
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends the program at once
	if config.HealthCheck {
		err = app.CheckHealth(ctx, config, os.Stdout)
	} else {
		err = app.Run(ctx, config, os.Stdout, os.Stderr)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "knurld:", err)
		return 1
	}
	return 0
}
