package db

import (
	"context"
	"errors"
	"fmt"
	"time"

	"delaybook/domain"

	"github.com/jackc/pgx/v5"
)

const (
	// defaultLookAgain is how long Watch trusts a silent connection before it
	// asks for the version itself, which also shows whether the connection still
	// lives. It is also how long an answer may take.
	defaultLookAgain = 15 * time.Second

	firstReconnect = 100 * time.Millisecond
	slowReconnect  = 5 * time.Second
)

// Watch implements service.Store. It calls changed and lost from the goroutine
// that called it. Versions that come while changed runs are passed over but for
// the newest.
func (s *Store) Watch(ctx context.Context, changed func(domain.Point), lost func(error)) {
	pause := firstReconnect
	for down := false; ; {
		err := s.watchOnce(ctx, func(p domain.Point) {
			down, pause = false, firstReconnect
			changed(p)
		})
		if ctx.Err() != nil {
			return
		}
		if !down {
			down = true
			lost(fmt.Errorf("watch the book: %w", err))
		}
		if !sleep(ctx, pause) {
			return
		}
		pause = min(2*pause, slowReconnect)
	}
}

// watchOnce watches over one connection until it fails or ctx ends.
func (s *Store) watchOnce(ctx context.Context, changed func(domain.Point)) error {
	start, cancel := context.WithTimeout(ctx, s.lookAgain)
	defer cancel()
	conn, err := pgx.ConnectConfig(start, s.pool.Config().ConnConfig)
	if err != nil {
		return err
	}
	l := listener{conn: conn, lookAgain: s.lookAgain, newest: make(chan domain.Point, 1)}
	failed := make(chan error, 1)
	go func() {
		failed <- l.listen(ctx)
		close(l.newest)
	}()
	for p := range l.newest {
		if ctx.Err() == nil {
			changed(p)
		}
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.lookAgain)
	defer cancel()
	return errors.Join(<-failed, conn.Close(end))
}

// A listener keeps in newest the newest version that was not taken out yet.
type listener struct {
	conn      *pgx.Conn
	lookAgain time.Duration
	newest    chan domain.Point
}

// listen goes on from the present version until the connection fails or ctx ends.
func (l *listener) listen(ctx context.Context) error {
	start, cancel := context.WithTimeout(ctx, l.lookAgain)
	defer cancel()
	if _, err := l.conn.Exec(start, `LISTEN book`); err != nil {
		return err
	}
	known, err := l.ask(ctx)
	if err != nil {
		return err
	}
	for l.offer(known); ; {
		p, err := l.next(ctx)
		if err != nil {
			return err
		}
		if known.Before(p) {
			known = p
			l.offer(known)
		}
	}
}

// offer replaces what waits in newest. It must not be called concurrently.
func (l *listener) offer(p domain.Point) {
	select {
	case <-l.newest:
	default:
	}
	l.newest <- p
}

// next returns the version of the next notification, or after a silence the
// version of the book.
func (l *listener) next(ctx context.Context) (domain.Point, error) {
	wait, cancel := context.WithTimeout(ctx, l.lookAgain)
	defer cancel()
	n, err := l.conn.WaitForNotification(wait)
	switch {
	case err == nil:
		return readNotice(n.Payload)
	case wait.Err() == nil || ctx.Err() != nil:
		return domain.Point{}, err
	}
	return l.ask(ctx)
}

func (l *listener) ask(ctx context.Context) (p domain.Point, err error) {
	ctx, cancel := context.WithTimeout(ctx, l.lookAgain)
	defer cancel()
	err = l.conn.QueryRow(ctx, selectNewest).Scan(&p.Epoch, &p.Version)
	return p, err
}

// notice is what a write tells those who listen.
func notice(p domain.Point) string { return fmt.Sprintf("%d/%d", p.Epoch, p.Version) }

func readNotice(text string) (p domain.Point, err error) {
	if _, err := fmt.Sscanf(text, "%d/%d", &p.Epoch, &p.Version); err != nil {
		return p, fmt.Errorf("read the notice %q of a write: %w", text, err)
	}
	return p, nil
}
