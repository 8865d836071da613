package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync"
	"time"

	"delaybook/api"
	"delaybook/db/pglaunch"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// serveFlags say how the service is reached.
type serveFlags struct {
	listen    string
	publicURL string
	tlsCert   string
	tlsKey    string
	clips     clipFlags
}

func (f *serveFlags) register(flags *pflag.FlagSet) {
	flags.StringVar(&f.listen, "listen", "127.0.0.1:8080", "address to listen on; port 0 takes a free one")
	flags.StringVar(&f.publicURL, "public-url", "", "how people reach the service, for links and QR codes (default: the address)")
	flags.StringVar(&f.tlsCert, "tls-cert", "", "certificate file (PEM); with --tls-key the service speaks HTTPS")
	flags.StringVar(&f.tlsKey, "tls-key", "", "key file (PEM) of the certificate")
	f.clips.register(flags)
}

func (f *serveFlags) check() error {
	if (f.tlsCert == "") != (f.tlsKey == "") {
		return usage("--tls-cert and --tls-key go together")
	}
	return f.clips.check()
}

func (f *serveFlags) scheme() string {
	if f.tlsCert != "" {
		return "https"
	}
	return "http"
}

func (p *program) serve() *cobra.Command {
	var flags serveFlags
	var data *databaseFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Run the service",
		Long: "Run the service. Without a database URL it starts a private PostgreSQL in the data folder.\n" +
			"The first line of standard output is the address that it listens on.",
		Args: exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := flags.check(); err != nil {
				return err
			}
			d, err := p.openDatabase(cmd.Context(), data, "serve", true)
			if err != nil {
				return err
			}
			return errors.Join(p.serveBook(cmd.Context(), &flags, data, d, nil), d.close())
		},
	}
	flags.register(cmd.Flags())
	data = p.databaseFlags(cmd.Flags(), "delaybook")
	return cmd
}

// Limits on a connection. Reading is given long enough for a large batch over
// a poor network.
const (
	headerTime   = 10 * time.Second
	readTime     = 2 * time.Minute
	writeTime    = 2 * time.Minute
	idleTime     = 2 * time.Minute
	shutdownTime = 10 * time.Second
)

// serveBook serves an open book until ctx ends. started, if not nil, is called
// with the base URL once the service answers.
func (p *program) serveBook(
	ctx context.Context, flags *serveFlags, data *databaseFlags, d *database, started func(url string) error,
) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	use, err := p.openService(ctx, d.store)
	if err != nil {
		return err
	}
	go use.Follow(ctx)
	go use.Tend(ctx)
	go func() { cancel(p.keepAlive(ctx, data, d)) }()

	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", flags.listen)
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	base := flags.scheme() + "://" + listener.Addr().String()
	if flags.publicURL == "" {
		flags.publicURL = base
	}
	cards, err := p.openCards(ctx, flags.clips.decoder, data.data)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	clips, err := p.openClips(use, &flags.clips, data.data, d.store)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	handler, err := api.New(use, api.Options{Log: p.log, PublicURL: flags.publicURL, Now: now, Clips: clips.Clips, Uploads: clips.uploads, Card: cards})
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	var working sync.WaitGroup
	defer working.Wait()
	defer cancel(nil)
	working.Go(func() { clips.work(ctx, p.log) })
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: headerTime, ReadTimeout: readTime, WriteTimeout: writeTime, IdleTimeout: idleTime,
	}
	fmt.Fprintln(p.stdout, listener.Addr())
	failed := make(chan error, 1)
	go func() {
		if flags.tlsCert != "" {
			failed <- server.ServeTLS(listener, flags.tlsCert, flags.tlsKey)
			return
		}
		failed <- server.Serve(listener)
	}()
	if started != nil {
		if err := started(base); err != nil {
			return errors.Join(err, server.Close())
		}
	}
	select {
	case err := <-failed:
		return fmt.Errorf("serve: %w", err)
	case <-ctx.Done():
	}
	last, stop := context.WithTimeout(context.WithoutCancel(ctx), shutdownTime)
	defer stop()
	if err := server.Shutdown(last); err != nil {
		return errors.Join(fmt.Errorf("end open requests: %w", err), server.Close())
	}
	if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) {
		return cause
	}
	return nil
}

// keepAlive starts the private PostgreSQL again when it ends by itself. It
// returns when ctx ends, or with the reason why it can not.
func (p *program) keepAlive(ctx context.Context, data *databaseFlags, d *database) error {
	if d.cluster == nil {
		<-ctx.Done()
		return nil
	}
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-d.cluster.Done():
		}
		p.log.ErrorContext(ctx, "the private PostgreSQL ended; starting it again", "err", d.cluster.Err())
		if err := d.cluster.Stop(); err != nil {
			p.log.ErrorContext(ctx, "clean up after the private PostgreSQL", "err", err)
		}
		cluster, err := pglaunch.Start(ctx, p.launch(data, "serve"))
		if err != nil {
			return fmt.Errorf("the private PostgreSQL ended and can not be started again: %w", err)
		}
		d.cluster = cluster
	}
}
